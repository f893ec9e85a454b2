"""Tests of evidence: what the model says each reading should be."""
