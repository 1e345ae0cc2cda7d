"""What to inject to know a set, and the readings back into its description."""
