"""Rule files: load, validate and look up; the content itself is in `rules/`."""
