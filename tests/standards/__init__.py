"""Tests of `faultfinder.standards`."""
