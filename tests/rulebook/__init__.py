"""Tests of rule files in use: what a procedure's words become."""
