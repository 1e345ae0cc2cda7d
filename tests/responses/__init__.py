"""What a set answers to."""
