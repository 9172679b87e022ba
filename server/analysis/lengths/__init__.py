"""How lengths were taken: heaping at round numbers, and what errors of length move."""
