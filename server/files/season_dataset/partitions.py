"""A partition of a season's dataset: all tables of the players of one bucket, all written or none.

This runs wherever the order is sent: it opens the database by itself, reads the state that the export reads, makes sure
of it, and leaves a receipt beside the files when all of them are complete.
"""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final, TypedDict

import pyarrow as pa

from server.files.season_tables.chunks import even_chunks
from server.files.season_tables.dictionary import TableWords, tables
from server.files.season_tables.lock import (
    FORMAT,
    LockedBaseline,
    LockedFile,
    dictionary_hash,
    made_by,
    unlocked_baseline,
)
from server.files.season_tables.package import locked_file, write_pieces
from server.files.season_tables.parquet_writer import parquet_pieces
from server.files.season_tables.seasons import Season
from server.files.season_tables.tallied_tables import OF_EVERYBODY, frames_of_everybody
from server.files.season_tables.writing import PARQUET, about_table, parquet_together
from server.operation.settings import database_to_read
from server.questions.squads import Member
from server.store.players import Player
from server.store.private_files import make_folder, to_disk, write_private
from server.store.shared_states import SharedState, StateError, joined

TREE: Final = "tree"
"""Where the files are written, as they will lie in the dataset."""
RECEIPTS: Final = "receipts"


@dataclass(frozen=True)
class Order:
    """One partition to be written. `staging`: the folder, which all processes see; `logs`: the fingerprint of each
    player's log; `mark`: changes with all that the partition depends on."""

    staging: str
    season: int
    baseline: LockedBaseline
    bucket: int
    players: tuple[Player, ...]
    logs: dict[str, str]
    mark: str
    state: SharedState


class Receipt(TypedDict):
    """A complete partition: its mark, and its files by their paths in the dataset."""

    mark: str
    files: dict[str, LockedFile]


def bucket_of(player_id: str, buckets: int) -> int:
    """The bucket of a player, the same for ever while the number of buckets is."""
    return int.from_bytes(hashlib.sha256(player_id.encode()).digest()[:8], "big") % buckets


def mark_of(season: int, baseline: LockedBaseline, logs: dict[str, str], squads: Mapping[str, Sequence[str]]) -> str:
    """What a partition depends on: its players' logs and squads, the baseline's rows, and what writes."""
    shared = [[player_id, squads.get(player_id, ())] for player_id in sorted(logs)]
    stated = [FORMAT, season, baseline, sorted(logs.items()), shared, made_by(), dictionary_hash()]
    return hashlib.sha256(json.dumps(stated, sort_keys=True).encode()).hexdigest()


def of_buckets() -> list[str]:
    """The tables that are written bucket by bucket; the others are of everybody."""
    return [name for name in tables() if name not in OF_EVERYBODY]


def path_of_everybody(table: str, season: int) -> str:
    """Where a table of everybody lies."""
    return f"{table}/season={season}/rows.parquet"


def path_in_dataset(table: str, season: int, bucket: int) -> str:
    """Where a table of a partition lies."""
    return f"{table}/season={season}/bucket={bucket}/rows.parquet"


def receipt_path(staging: Path, bucket: int) -> Path:
    """Where the receipt of a partition lies."""
    return staging / RECEIPTS / f"{bucket}.json"


def write_partition(order: Order) -> Receipt:
    """Write a partition into the staging folder. Written twice, by two processes at once too, it is the same. Raises
    StateError where the export's state of the database cannot be read, and OSError."""
    staging = Path(order.staging)
    if not staging.is_dir():
        raise StateError(f"the folder {staging} is not to be seen from here")
    with joined(order.state, database_to_read()) as connection:
        season = Season(connection, order.season, unlocked_baseline(order.baseline), order.players)
        if dict(season.marks()) != order.logs:
            raise StateError("its database is not the export's: the logs of the players differ")
        files = write_bucket(season, of_buckets(), order.bucket, staging / TREE)
    receipt: Receipt = {"mark": order.mark, "files": files}
    place = receipt_path(staging, order.bucket)
    part = place.with_name(f"{place.name}.{uuid.uuid4().hex}.part")
    write_private(part, json.dumps(receipt))
    part.replace(place)
    return receipt


def write_of_everybody(
    season: Season, members: Sequence[Member], tree: Path, names: Sequence[str] = OF_EVERYBODY
) -> dict[str, LockedFile]:
    """Write the tables of everybody into the tree of a dataset; returns the files by their paths in it. `members`: the
    season's players. Raises OSError."""
    files = {}
    for name in names:
        path = path_of_everybody(name, season.year)
        place = tree / path
        make_folder(place.parent)
        # it may be the very file of the dataset there is, linked
        place.unlink(missing_ok=True)
        table, rows = tables()[name], 0

        def counted(table: TableWords = table) -> Iterator[pa.Table]:
            nonlocal rows
            for chunk in even_chunks(frames_of_everybody(table.name, members, season.baseline), table):
                rows += chunk.num_rows
                yield chunk

        known = write_pieces(place, parquet_pieces(table, counted(), about_table(season, table)))
        to_disk(place)
        files[path] = locked_file(name, PARQUET, rows, known)
    return files


def write_bucket(season: Season, names: Sequence[str], bucket: int, tree: Path) -> dict[str, LockedFile]:
    """Write the tables of the season's players, who are those of one bucket, into the tree of a dataset; returns the
    files by their paths in it. Raises OSError."""
    paths = {name: path_in_dataset(name, season.year, bucket) for name in names}
    parts = {}
    for name, path in paths.items():
        make_folder((tree / path).parent)
        parts[name] = (tree / path).with_name(f".{Path(path).name}.{uuid.uuid4().hex}.part")
    try:
        written = parquet_together(season, parts)
        for name, part in parts.items():
            to_disk(part)
            part.replace(tree / paths[name])
    finally:
        for part in parts.values():
            part.unlink(missing_ok=True)
    return {paths[name]: locked_file(name, PARQUET, rows, known) for name, (known, rows) in written.items()}
