"""Files that people write: read, decoded and questioned with the position of every value kept."""
