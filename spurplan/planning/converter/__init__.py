"""Which crystal for a converter in front of the set."""
