"""The command line itself."""
