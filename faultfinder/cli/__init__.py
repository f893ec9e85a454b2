"""Commands: one module each; the only place that prints and exits."""
