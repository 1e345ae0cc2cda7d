"""Who is on the air: band tables, hours, typical levels and the interval index."""
