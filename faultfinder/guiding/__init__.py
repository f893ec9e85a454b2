"""From a failed reading to a proved repair, a step at a time."""
