"""Two stations at once: what their products are heard as."""
