"""The predicted round: how a player's scores spread, by hole and for the round, and how well predictions did."""
