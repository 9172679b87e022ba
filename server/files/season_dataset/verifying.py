"""The files of a dataset told again, a bucket of players at a time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from server.files.season_dataset.partitions import bucket_of, write_bucket
from server.files.season_tables.dictionary import tables
from server.files.season_tables.lock import Lock, LockError
from server.files.season_tables.seasons import Season
from server.store.private_files import make_folder


def bucket_groups(lock: Lock) -> list[list[str]]:
    """The paths of a dataset, those of a bucket together."""
    groups = defaultdict(list)
    for path in lock["files"]:
        groups[_bucket(path)].append(path)
    return [groups[bucket] for bucket in sorted(groups)]


def _bucket(path: str) -> int:
    number = path.rpartition("/bucket=")[2].partition("/")[0]
    if not number.isdigit():
        raise LockError(f"{path}: names no bucket")
    return int(number)


def dataset_again(season: Season, lock: Lock, group: Sequence[str], spare: Path) -> Mapping[str, Path]:
    """The files of a bucket, told again."""
    bucket = _bucket(group[0])
    buckets = lock["dataset"]["buckets"]
    own = tuple(player for player in season.players if bucket_of(player.player_id, buckets) == bucket)
    if not own:
        return {}
    tree, rows = spare / "tree", spare / "rows"
    make_folder(rows)
    files = write_bucket(replace(season, players=own), list(tables()), bucket, tree, rows)
    return {path: tree / path for path in files}
