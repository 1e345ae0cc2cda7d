"""What a strong station does to a set that is tuned elsewhere, besides making products."""
