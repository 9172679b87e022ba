"""The only SQL: the change log, the records derived from it, and frames for analysis."""
