"""Patterns: where each club finishes, distances, shapes, part swings."""
