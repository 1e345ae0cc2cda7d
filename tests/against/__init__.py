"""Against the outside, a module an authority."""
