"""What a preselector, a circuit, a trap, a pad or another IF would clear."""
