"""The round beforehand: how a player's scores spread, hole by hole and for the round, and how often that came true."""
