"""Words and rules of the game: lies, units, categories, penalties, the shots of a ball in order."""
