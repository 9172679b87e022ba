"""Plans: the ground of a hole, landings, clubs and aims, expected strokes."""
