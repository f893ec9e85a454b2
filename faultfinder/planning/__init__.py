"""Which check to do next: a decision problem in numbers, which knows no electricity."""
