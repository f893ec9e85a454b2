"""The engine held against a matcher of our own, and against the library's known traps."""
