"""A season as a Parquet dataset, written by many processes: a folder a table, in it season=YEAR/bucket=N/.

players -> buckets by a hash of their ids -> a partition a bucket, all tables of its players, written anywhere
        -> gathered beside the place, footers in `_metadata`, descriptor and lock -> put in place at once
"""
