"""Files in and out: shots tables, maps of holes, season tables."""
