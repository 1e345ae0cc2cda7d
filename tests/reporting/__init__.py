"""How it is shown."""
