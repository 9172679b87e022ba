"""What a record is: the schema of every kind, the envelope of a change, and how changes fold into a record."""
