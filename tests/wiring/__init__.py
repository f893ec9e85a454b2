"""Tests of what is built: circuits and faults as values."""
