"""The set."""
