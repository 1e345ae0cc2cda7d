"""The receiver file: read, written, begun, and its form for editors."""
