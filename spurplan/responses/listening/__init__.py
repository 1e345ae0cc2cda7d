"""What the listener loses: who spoils which settings, with what chance, and how sure that is."""
