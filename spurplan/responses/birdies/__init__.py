"""What a set hears of itself, where a station beats with itself, what it radiates."""
