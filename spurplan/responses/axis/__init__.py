"""How much of a dial is clear, for ten thousand IFs at once."""
