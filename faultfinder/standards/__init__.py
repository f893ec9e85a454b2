"""Published tables and limits, each with its source; the figures are in `rules/`."""
