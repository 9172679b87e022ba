"""Practice balls: what they show by themselves, beside the course, and of the course."""
