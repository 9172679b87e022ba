"""Seasons: valued shots of a player, the documents made of them, and season tables read and written."""
