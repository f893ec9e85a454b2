"""Tests of the way from readings and predictions to ranked suspects."""
