"""What the operator sees and sets: logs, metrics, health."""
