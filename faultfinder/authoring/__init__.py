"""Writing rules: what is wrong with them, what they are held against, and how one begins."""
