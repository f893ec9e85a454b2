"""Tests of the views of a result."""
