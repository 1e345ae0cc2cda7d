"""What each question shows people, a view a question."""
