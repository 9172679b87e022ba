"""An invented season with a known truth, and the seeded generator that makes it.

Everything here is invented: the player, the course, the rounds, the skills. Nothing is taken from a real
person, club or course. `about.toml` says what each file holds.

The generator knows nothing of the rest of the project: it plays golf, and writes what a player would have tapped.
"""
