"""Who is on the air."""
