"""What a plan of tests can detect and isolate."""
