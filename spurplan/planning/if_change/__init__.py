"""Whether another intermediate frequency is better in a set."""
