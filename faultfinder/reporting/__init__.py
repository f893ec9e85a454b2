"""Views of a result: text and JSON, no arithmetic."""
