"""Tests of the electricity: two independent solvers, laws of networks, faults worked by hand."""
