"""Many made-up cases of one family of circuits, diagnosed and marked."""
