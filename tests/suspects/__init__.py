"""Cases for `suspects`: drawn, kept in a file, and asked."""
