"""Which clubs are worth carrying on a course: bags compared over its mapped holes."""
