"""Season tables: shots, holes, rounds, clubs, setups and summaries of a year, as CSV, Parquet and XLSX.

season (players, days)  ->  frames, a few rounds at a time  ->  Arrow tables as dictionary.toml says  ->  writers
"""
