"""A dataset read back for answers, a bucket of players at a time: the values stand in it, no database is opened.

A bucket is read by row groups and its players are handed on one by one, so that what is held is a player's season.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd
import pyarrow as pa

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.strokes_gained.attribution import BASES
from server.files.season_dataset.datasets import row_groups
from server.files.season_dataset.partitions import bucket_of, path_in_dataset
from server.files.season_tables.dictionary import tables
from server.files.season_tables.lock import Lock, LockError, dictionary_hash, made_by, read_lock, unlocked_baseline
from server.files.season_tables.tallied_tables import TALLIED_COLUMNS, by_player, members_of
from server.files.season_tables.writing import SHOTS
from server.game.lies import LIES
from server.questions.question import Chosen, Question, Span
from server.questions.squads import Member
from server.questions.valued_shots import scheme_of
from server.records.validation import Fault, InvalidError, shown
from server.store.players import Player

PLAYERS: Final = "players"
COURSES: Final = "courses"
ROUNDS: Final = "rounds"

_OF_SHOTS: Final = {"shot": "order", "finish_lie": "end_lie", "finish_distance_yd": "end_distance_yd"}
_AS_THEY_ARE: Final = (
    "player_id", "round_id", "played_on", "kind", "course", "tees", "ball_label", "lengths_taken", "hole", "par",
    "ball", "lie", "distance_yd", "club", "holed", "penalty_strokes", "setup", "category", "expected_before",
    "expected_after", "strokes_gained", "basis",
)  # fmt: skip
EVER: Final = Span()
_NO_ROUNDS: Final = pd.DataFrame({"wind_mph": [], "temperature_c": [], "firmness": []}, pd.Index([], dtype="object"))
_SHOT_COLUMNS: Final = [*_AS_THEY_ARE, *_OF_SHOTS]
_ROUND_COLUMNS: Final = ["round_id", "wind_mph", "temperature_c", "firmness"]
_WORDS: Final = ("kind", "course", "tees", "ball_label", "lengths_taken", "club", "setup")


class NoDatasetError(ValueError):
    """A folder that answers cannot be read from, with the reason."""


@dataclass(frozen=True, eq=False)
class Dataset:
    """A complete dataset. `players`: by name, as they were set when it was written; `squads`: of each by id."""

    folder: Path
    lock: Lock
    baseline: Baseline
    players: tuple[Player, ...]
    squads: dict[str, tuple[str, ...]]

    def members(self, players: Sequence[Player]) -> list[Member]:
        """These players with their tallies, in the order given. Raises NoDatasetError."""
        with_rows = sorted({self._bucket(player.player_id) for player in players})
        shots = self._rows(SHOTS, with_rows, TALLIED_COLUMNS)
        return members_of(shots, players)

    def valued(self, players: Collection[Player], span: Span = EVER) -> Iterator[tuple[Player, pd.DataFrame]]:
        """Each of these players with the valued shots of a span, bucket by bucket; who has none is left out. Raises
        NoDatasetError."""
        known = {player.player_id: player for player in players}
        for bucket in sorted({self._bucket(player_id) for player_id in known}):
            rounds = pa.concat_tables(self._rows(ROUNDS, [bucket], _ROUND_COLUMNS)).to_pandas().set_index("round_id")
            for player_id, rows in by_player(self._rows(SHOTS, [bucket], _SHOT_COLUMNS)):
                if player_id in known:
                    yield known[player_id], _chosen(_valued(rows, rounds, known[player_id]), span)

    def chosen(self, players: Sequence[Player], question: Question) -> Iterator[Chosen]:
        """What a summary of each of these players reads, bucket by bucket. Raises NoDatasetError, and InvalidError for
        a course that one of them does not have."""
        span = question.spans[0]
        if span.course is not None:
            self._know_course(players, span.course)
        without = {player.player_id: player for player in players}
        for player, valued in self.valued(players, span):
            del without[player.player_id]
            yield Chosen(player, valued, self.baseline, (), span.first, span.last, question.level)
        for player in without.values():
            nothing = _valued(tables()[SHOTS].schema().empty_table().select(_SHOT_COLUMNS), _NO_ROUNDS, player)
            yield Chosen(player, nothing, self.baseline, (), span.first, span.last, question.level)

    def _know_course(self, players: Sequence[Player], course: str) -> None:
        buckets = sorted({self._bucket(player.player_id) for player in players})
        names: dict[str, set[str]] = {player.player_id: set() for player in players}
        for rows in self._rows(COURSES, buckets, ["player_id", "course"]):
            for player_id, name in zip(*(rows[column].to_pylist() for column in ("player_id", "course")), strict=True):
                names.get(player_id, set()).add(name)
        for known in names.values():
            if course not in known:
                there = ", ".join(sorted(known)) or "no course yet"
                raise InvalidError([Fault("course", shown(course), "", f"is not one of the player's courses: {there}")])

    def _bucket(self, player_id: str) -> int:
        return bucket_of(player_id, self.lock["dataset"]["buckets"])

    def _rows(self, table: str, buckets: Sequence[int], columns: Sequence[str]) -> Iterator[pa.Table]:
        paths = [self.folder / path_in_dataset(table, self.lock["season"], bucket) for bucket in buckets]
        yield from _named_faults(lambda: row_groups(paths, columns), self.folder)


def open_dataset(folder: Path) -> Dataset:
    """The dataset in a folder. NoDatasetError where there is none, half of one, or one of another version."""
    try:
        lock = read_lock(folder)
    except LockError as error:
        raise NoDatasetError(str(error)) from error
    if "dataset" not in lock:
        raise NoDatasetError(f"{folder} contains a package of one machine; a dataset is written by export --workers")
    if lock.get("dictionary") != dictionary_hash():
        was, now = lock["made_by"].get("tool", "unknown"), made_by()["tool"]
        raise NoDatasetError(
            f"{folder} was written by another version ({was}, here {now}), whose tables have other columns; export the "
            "season again"
        )
    for path, known in lock["files"].items():
        place = folder / path
        if not place.is_file():
            raise NoDatasetError(f"{folder} is half a dataset: {path} is missing; export the season again")
        if place.stat().st_size != known["bytes"]:
            size = place.stat().st_size
            raise NoDatasetError(
                f"{folder} is half a dataset: {path} has {size} bytes, {known['bytes']} were written; export the "
                "season again"
            )
    buckets = [path for path, known in lock["files"].items() if known["table"] == PLAYERS]
    found, squads = [], {}
    for rows in _named_faults(lambda: row_groups([folder / path for path in buckets], tables()[PLAYERS].names), folder):
        for row in rows.to_pylist():
            found.append(_player(row))
            if row["squads"]:
                squads[row["player_id"]] = tuple(row["squads"].split("; "))
    in_order = tuple(sorted(found, key=lambda player: (player.name, player.player_id)))
    return Dataset(folder, lock, unlocked_baseline(lock["baseline"]), in_order, squads)


def _named_faults(read: Callable[[], Iterator[pa.Table]], folder: Path) -> Iterator[pa.Table]:
    """What is read, with faults in words."""
    try:
        yield from read()
    except (OSError, pa.ArrowException) as error:
        raise NoDatasetError(f"{folder} cannot be read: {str(error).splitlines()[0]}") from error


def _player(row: dict[str, Any]) -> Player:
    return Player(
        row["player_id"],
        row["player"],
        row["hand"],
        row["units"],
        row["usual_baseline"],
        row["category_scheme"],
        row["short_game_yd"],
    )


def _valued(rows: pa.Table, rounds: pd.DataFrame, player: Player) -> pd.DataFrame:
    """The rows of a player as `valued_shots` has them, without what no summary reads."""
    frame = rows.to_pandas().rename(columns=_OF_SHOTS)
    categories = {"lie": list(LIES), "end_lie": list(LIES), "category": list(scheme_of(player).categories)}
    categories["basis"] = list(BASES)
    words: dict[str, Any] = {name: pd.Categorical(frame[name]) for name in _WORDS}
    words |= {name: pd.Categorical(frame[name], categories=known) for name, known in categories.items()}
    weather = rounds.reindex(frame["round_id"]).reset_index(drop=True)
    return frame.assign(
        **words,
        **{name: weather[name] for name in weather},
        played_on=frame["played_on"].to_numpy(dtype="datetime64[s]"),
        holed=frame["holed"].eq(True).fillna(False).astype("bool"),
        penalty_strokes=frame["penalty_strokes"].fillna(0).astype("int64"),
    )


def _chosen(valued: pd.DataFrame, span: Span) -> pd.DataFrame:
    taken = np.ones(len(valued), dtype=np.bool_)
    if span.first is not None:
        taken &= valued["played_on"].ge(pd.Timestamp(span.first)).to_numpy()
    if span.last is not None:
        taken &= valued["played_on"].le(pd.Timestamp(span.last)).to_numpy()
    if span.kinds:
        taken &= valued["kind"].isin(span.kinds).to_numpy()
    if span.course is not None:
        taken &= valued["course"].eq(span.course).to_numpy(dtype=bool)
    return valued if taken.all() else valued[taken].reset_index(drop=True)
