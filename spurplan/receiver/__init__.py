"""The set on the bench: its description, its file, and its parts worked out."""
