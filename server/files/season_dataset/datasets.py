"""A season's dataset planned, taken up again, and put in place at once.

Everything is made in a folder beside the place (`.NAME.part`). What an export that broke off left there is taken when
its marks still hold; what is in the dataset and holds is linked, not written again. When every partition is there,
the folders change places at once.
"""

from __future__ import annotations

import fcntl
import json
import os
import shutil
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any, Final

import pyarrow as pa
import pyarrow.parquet as pq

from server.files.season_dataset.partitions import (
    RECEIPTS,
    TREE,
    Order,
    Receipt,
    bucket_of,
    mark_of,
    of_buckets,
    path_in_dataset,
    path_of_everybody,
    receipt_path,
    write_of_everybody,
)
from server.files.season_dataset.swapping import swap
from server.files.season_tables.descriptor import DESCRIPTOR, descriptor
from server.files.season_tables.dictionary import TableWords, tables
from server.files.season_tables.lock import (
    LOCK,
    Lock,
    LockedFile,
    LockError,
    lock_of,
    lock_text,
    locked_baseline,
    read_lock,
)
from server.files.season_tables.package import descriptor_text
from server.files.season_tables.parquet_writer import FileFacts
from server.files.season_tables.seasons import Season
from server.files.season_tables.tallied_tables import OF_EVERYBODY, TALLIED_COLUMNS, members_of
from server.files.season_tables.writing import PARQUET, SHOTS, about_table
from server.store.private_files import make_folder, open_private, write_private
from server.store.shared_states import SharedState
from server.store.squads import squads_of

PLAYERS_A_BUCKET: Final = 16
"""A new dataset has so many buckets that a bucket has about so many players, or twice as many."""
METADATA: Final = "_metadata"
GUARD: Final = "guard"


class DatasetError(ValueError):
    """A folder that no dataset can be written to, with the reason."""


Run = Callable[[list[Order]], Iterable[Receipt]]
"""Writes the partitions ordered and hands on each receipt as it comes. It may raise; what is complete by then stays."""


@dataclass
class Plan:
    """What is to be done. `orders`: the partitions to be written, `kept`: those that are in the dataset already,
    `resumed`: those that an export that broke off left; `mended`: paths that the dataset should have and has not."""

    buckets: int
    marks: dict[int, str] = field(default_factory=dict)
    orders: list[Order] = field(default_factory=list)
    kept: dict[int, Receipt] = field(default_factory=dict)
    resumed: dict[int, Receipt] = field(default_factory=dict)
    mended: list[str] = field(default_factory=list)


def staging_of(folder: Path) -> Path:
    """The folder beside a dataset in which it is made. Both are on one file system."""
    complete = folder.resolve()
    return complete.with_name(f".{complete.name}.part")


@contextmanager
def staged(folder: Path) -> Iterator[Path]:
    """The staging folder, for one export at a time. It stays when the export fails, for the next one. Raises
    DatasetError while another export is at it, and OSError."""
    staging = staging_of(folder)
    for place in (staging, staging / TREE, staging / RECEIPTS):
        make_folder(place)
    with _guarded(staging / GUARD):
        try:
            yield staging
        except BaseException:
            if not any((staging / RECEIPTS).glob("*.json")):
                # nothing in it is worth taking up
                shutil.rmtree(staging)
            raise
        shutil.rmtree(staging)


@contextmanager
def _guarded(place: Path) -> Iterator[IO[Any]]:
    with open_private(place, "a") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise DatasetError(f"{place.parent}: another export is writing there") from error
        yield file


def standing(folder: Path, year: int) -> Lock | None:
    """The lock of the dataset in the folder; None where there is none. DatasetError where something else lies there,
    which putting a dataset in place would take away, or a dataset of another season or version."""
    there = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if not path.is_dir()}
    if not there:
        return None
    try:
        lock = read_lock(folder)
    except LockError as error:
        raise DatasetError(f"{error}; choose a new folder") from error
    if lock["season"] != year:
        raise DatasetError(f"{folder / LOCK} is of season {lock['season']}; choose another folder for {year}")
    if "dataset" not in lock:
        raise DatasetError(f"{folder} contains a package of one machine; choose a new folder")
    known = {LOCK, DESCRIPTOR, *(f"{file['table']}/{METADATA}" for file in lock["files"].values()), *lock["files"]}
    if strange := sorted(there - known):
        raise DatasetError(f"{folder} contains {strange[0]}, which is no part of the dataset; delete it first")
    return lock


def planned(season: Season, staging: Path, folder: Path, state: SharedState, buckets: int | None = None) -> Plan:
    """What must be written. `buckets`: how many, None as many as there are, or as the players ask for. Raises
    DatasetError."""
    lock = standing(folder, season.year)
    had = lock["dataset"]["buckets"] if lock else None
    if buckets and had and buckets != had:
        raise DatasetError(f"{folder} has {had} buckets, not {buckets}; choose another folder")
    plan = Plan(had or buckets or _buckets_for(len(season.players)))
    baseline = locked_baseline(season.baseline)
    logs = dict(season.marks())
    squads = squads_of(season.connection, [player.player_id for player in season.players])
    players = defaultdict(list)
    for player in season.players:
        players[bucket_of(player.player_id, plan.buckets)].append(player)
    for bucket, group in sorted(players.items()):
        own = {player.player_id: logs[player.player_id] for player in group}
        mark = plan.marks[bucket] = mark_of(season.year, baseline, own, squads)
        if (left := _resumed(staging, bucket, mark)) is not None:
            plan.resumed[bucket] = left
        elif lock and (had_receipt := _kept(lock, folder, season.year, bucket, mark, plan.mended)) is not None:
            plan.kept[bucket] = had_receipt
        else:
            order = Order(str(staging), season.year, baseline, bucket, tuple(group), own, mark, state)
            plan.orders.append(order)
    return plan


def _buckets_for(players: int) -> int:
    buckets = 1
    while buckets * PLAYERS_A_BUCKET * 2 <= players:
        buckets *= 2
    return buckets


def _resumed(staging: Path, bucket: int, mark: str) -> Receipt | None:
    try:
        found: Receipt = json.loads(receipt_path(staging, bucket).read_bytes())
        complete = found["mark"] == mark and _lost_files(staging / TREE, found) == []
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return found if complete else None


def _kept(lock: Lock, folder: Path, year: int, bucket: int, mark: str, mended: list[str]) -> Receipt | None:
    if lock["dataset"]["marks"].get(str(bucket)) != mark:
        return None
    paths = [path_in_dataset(name, year, bucket) for name in of_buckets()]
    receipt: Receipt = {"mark": mark, "files": {path: lock["files"][path] for path in paths if path in lock["files"]}}
    lost = _lost_files(folder, receipt)
    mended += lost
    return receipt if not lost and len(receipt["files"]) == len(paths) else None


def _lost_files(tree: Path, receipt: Receipt) -> list[str]:
    """The paths of a receipt whose files are not there in their size."""
    sizes = {path: (tree / path).stat().st_size if (tree / path).is_file() else -1 for path in receipt["files"]}
    return [path for path, known in receipt["files"].items() if sizes[path] != known["bytes"]]


def write_dataset(season: Season, plan: Plan, staging: Path, folder: Path, run: Run) -> list[str]:
    """Write what the plan orders, and put the dataset in place at once; returns the tables' folders. Raises what `run`
    raises, and OSError; then the dataset is as it was, and what was written waits in the staging folder."""
    receipts = plan.kept | plan.resumed
    buckets = {order.mark: order.bucket for order in plan.orders}
    for receipt in run(plan.orders):
        receipts[buckets[receipt["mark"]]] = receipt
    tree = staging / TREE
    files = {path: known for _, receipt in sorted(receipts.items()) for path, known in receipt["files"].items()}
    for receipt in plan.kept.values():
        for path in receipt["files"]:
            _link(folder / path, tree / path)
    files |= _of_everybody(season, plan, tree, folder, files)
    names = list(tables())
    for name in names:
        _write_metadata(season, tables()[name], tree, [path for path, known in files.items() if known["table"] == name])
    lock = lock_of(season.year, season.baseline, dict(season.marks()), files)
    lock["dataset"] = {"buckets": plan.buckets, "marks": {str(bucket): mark for bucket, mark in plan.marks.items()}}
    write_private(tree / DESCRIPTOR, _descriptor(season, names, lock))
    write_private(tree / LOCK, lock_text(lock))
    # what is in the tree after the change of places is the old dataset: no receipt may speak for it
    shutil.rmtree(staging / RECEIPTS)
    _sweep(tree, {LOCK, DESCRIPTOR, *files, *(f"{name}/{METADATA}" for name in names)})
    _put_in_place(tree, folder.resolve())
    return [str(folder / name) for name in names]


def _of_everybody(
    season: Season, plan: Plan, tree: Path, folder: Path, files: dict[str, LockedFile]
) -> dict[str, LockedFile]:
    """The tables of everybody, read off the partitions; those that stand are linked while every partition does."""
    paths = [path_of_everybody(name, season.year) for name in OF_EVERYBODY]
    lock = None if plan.orders or plan.resumed else standing(folder, season.year)
    if lock and lock["dataset"]["marks"] == {str(bucket): mark for bucket, mark in plan.marks.items()}:
        known = {path: lock["files"][path] for path in paths if path in lock["files"]}
        if len(known) == len(paths) and not _lost_files(folder, {"mark": "", "files": known}):
            for path in paths:
                _link(folder / path, tree / path)
            return known
    shots = [tree / path for path, known_file in files.items() if known_file["table"] == SHOTS]
    return write_of_everybody(season, members_of(row_groups(shots, TALLIED_COLUMNS), season.players), tree)


def row_groups(paths: Iterable[Path], columns: Sequence[str]) -> Iterator[pa.Table]:
    """Some columns of Parquet files, a row group at a time, file by file. Raises OSError and pyarrow.ArrowException."""
    for path in paths:
        with pq.ParquetFile(path) as file:
            for group in range(file.num_row_groups):
                yield file.read_row_group(group, columns=list(columns))


def _link(there: Path, place: Path) -> None:
    """The same file at another place, without a copy where the file system can."""
    make_folder(place.parent)
    place.unlink(missing_ok=True)
    try:
        os.link(there, place)
    except OSError:
        shutil.copy2(there, place)


def _write_metadata(season: Season, table: TableWords, tree: Path, paths: list[str]) -> None:
    """`_metadata`: the footers of all files of a table, so that a reader finds row groups without opening them."""
    footers = []
    for path in paths:
        footer = pq.read_metadata(tree / path)
        footer.set_file_path(path.removeprefix(f"{table.name}/"))
        footers.append(footer)
    place = tree / table.name / METADATA
    # the writer reads what it wrote: so by name, into a file that is there already for its owner alone
    open_private(place, "wb").close()
    pq.write_metadata(table.schema(about_table(season, table)), place, footers)


def _descriptor(season: Season, names: list[str], lock: Lock) -> str:
    """The data package: a resource a table, its path the list of its files."""
    files = {name: [path for path, known in lock["files"].items() if known["table"] == name] for name in names}
    sizes = {name: sum(lock["files"][path]["bytes"] for path in paths) for name, paths in files.items()}
    facts: dict[str, FileFacts] = {name: {"bytes": size} for name, size in sizes.items()}
    package: Any = descriptor(season, [(name, PARQUET, name, facts[name]) for name in names])
    for resource, name in zip(package["resources"], names, strict=True):
        resource["path"] = files[name] if len(files[name]) > 1 else files[name][0]
    return descriptor_text(package)


def _sweep(tree: Path, wanted: set[str]) -> None:
    """Take away what is no part of the dataset: of players who have no round any more, of writers that were killed."""
    for path in sorted(tree.rglob("*"), reverse=True):
        if path.is_dir():
            if not any(path.iterdir()):
                path.rmdir()
        elif path.relative_to(tree).as_posix() not in wanted:
            path.unlink()


def _put_in_place(tree: Path, folder: Path) -> None:
    if folder.exists():
        swap(tree, folder)
    else:
        make_folder(folder.parent)
        tree.rename(folder)
