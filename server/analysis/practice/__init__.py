"""Practice balls: what they say by themselves, beside the course, and of the course."""
