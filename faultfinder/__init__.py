"""Turn instrument readings on a low-voltage final subcircuit into ranked faults."""

__version__ = "0.1.0"
