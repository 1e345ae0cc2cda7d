"""What a receiver answers to besides the wanted signal."""
