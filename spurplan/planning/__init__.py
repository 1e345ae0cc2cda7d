"""What to do about it: converters, other IFs, cures, suspects, the bench."""
