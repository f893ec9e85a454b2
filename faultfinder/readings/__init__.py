"""What was measured: readings, terminators, instruments, and the case that holds them."""
