"""Independent checks of the engine: exact fractions, plain loops, no import from spurplan."""
