"""What every way in asks before it answers."""
