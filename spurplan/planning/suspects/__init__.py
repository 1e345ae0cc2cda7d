"""What is this that I hear: causes weighed by what the bench says."""
