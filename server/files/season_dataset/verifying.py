"""The files of a dataset made again, a bucket of players at a time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from server.files.season_dataset.partitions import bucket_of, of_buckets, write_bucket, write_of_everybody
from server.files.season_tables.frames import tallied_members
from server.files.season_tables.lock import Lock, LockError
from server.files.season_tables.seasons import Season
from server.files.season_tables.tallied_tables import OF_EVERYBODY


def bucket_groups(lock: Lock) -> list[list[str]]:
    """The paths of a dataset, those of a bucket together; then the tables of everybody."""
    groups = defaultdict(list)
    of_everybody = []
    for path, known in lock["files"].items():
        if known["table"] in OF_EVERYBODY:
            of_everybody.append(path)
        else:
            groups[_bucket(path)].append(path)
    return [*(groups[bucket] for bucket in sorted(groups)), *([of_everybody] if of_everybody else [])]


def _bucket(path: str) -> int:
    number = path.rpartition("/bucket=")[2].partition("/")[0]
    if not number.isdigit():
        raise LockError(f"{path}: names no bucket")
    return int(number)


def dataset_again(season: Season, lock: Lock, group: Sequence[str], spare: Path) -> Mapping[str, Path]:
    """The files of a bucket, or the tables of everybody, made again."""
    if lock["files"][group[0]]["table"] in OF_EVERYBODY:
        return {path: spare / path for path in write_of_everybody(season, tallied_members(season), spare)}
    bucket = _bucket(group[0])
    buckets = lock["dataset"]["buckets"]
    own = tuple(player for player in season.players if bucket_of(player.player_id, buckets) == bucket)
    if not own:
        return {}
    tree = spare / "tree"
    files = write_bucket(replace(season, players=own), of_buckets(), bucket, tree)
    return {path: tree / path for path in files}
