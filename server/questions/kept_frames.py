"""Valued shots that are kept and folded: after a push the rounds that it touched are read and valued again, no other.

What a shot is worth depends on its own round alone: ends are linked within a hole, category and expected strokes follow
from lie, distance, par and baseline. So a frame that was worked out before holds for every round that no later change
of the log speaks of. Clubs' labels and setups are looked up again for all shots. A change of the player's own record or
of a course may touch any round: then everything is read again; so it is where the log does not go on from the frame's
end. `tests/questions/test_kept_frames.py` holds every fold to the frame worked out anew.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd
from sqlalchemy import Connection

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.strokes_gained.setups import with_setup
from server.game.categories import CategoryScheme
from server.questions.cache import Cache
from server.questions.valued_shots import valued_shots
from server.store.frames import Selection, club_labels, setups_frame, with_clubs
from server.store.touched import LogEnd, Touched, log_end, rounds_of, touched_since

MOST_FOLDED: Final = 0.5
"""The part of a frame's rounds above which reading all of them again takes no longer."""
ANYWHERE: Final = frozenset({"player", "course"})
"""Kinds of records that may stand in any row."""
FIXED: Final = frozenset({"lie", "end_lie", "category", "basis"})
"""Columns whose words are all known beforehand, in an order of their own."""


@dataclass(frozen=True, eq=False)
class KeptFrame:
    """A frame of `valued_shots`, and where the log ended when it was read. Never change the frame."""

    frame: pd.DataFrame
    end: LogEnd

    def __len__(self) -> int:
        return len(self.frame)


def kept_valued_shots(
    connection: Connection, selection: Selection, baseline: Baseline, scheme: CategoryScheme, frames: Cache
) -> pd.DataFrame:
    """`valued_shots` of one player, from what is kept in `frames` and the changes since. A frame that is folded is as
    old as the one that it was folded from: records mended without a change are seen as soon as ever."""
    assert selection.player_id is not None
    end = log_end(connection, selection.player_id)
    key: Hashable = (selection, baseline, scheme)

    def renew(before: KeptFrame | None) -> tuple[KeptFrame, bool]:
        folded = None if before is None else _folded(connection, before, selection, baseline, scheme)
        frame = valued_shots(connection, selection, baseline, scheme) if folded is None else folded
        return KeptFrame(frame, end), folded is not None

    found: KeptFrame = frames.get_or_renew(key, lambda kept: kept.end == end, renew)
    return found.frame


def _folded(
    connection: Connection, before: KeptFrame, selection: Selection, baseline: Baseline, scheme: CategoryScheme
) -> pd.DataFrame | None:
    """The frame as the log's later changes leave it; None where everything is to be read again."""
    player_id, frame = selection.player_id, before.frame
    assert player_id is not None
    touched = touched_since(connection, player_id, before.end)
    if touched is None or touched.kinds & ANYWHERE:
        return None
    rounds = _rounds(connection, frame, touched)
    if len(rounds) > max(1.0, MOST_FOLDED * len(frame["round_id"].cat.categories)):
        return None
    if rounds:
        part = valued_shots(connection, replace(selection, round_ids=tuple(sorted(rounds))), baseline, scheme)
        frame = folded(frame[~frame["round_id"].isin(rounds)], part)
    if "club" in touched.kinds:
        # labels of others change with one that is given twice
        frame = with_clubs(frame, club_labels(connection, player_id))
    if "setup" in touched.kinds:
        frame = with_setup(frame, setups_frame(connection, player_id))
    return frame


def _rounds(connection: Connection, frame: pd.DataFrame, touched: Touched) -> set[str]:
    """The rounds that changes touch: those named, those that hold a shot named, and those that held it."""
    stood = frame["round_id"][frame["shot_id"].isin(touched.shots).to_numpy(dtype=bool)]
    return {*touched.rounds, *rounds_of(connection, touched.shots), *stood.unique()}


def folded(rest: pd.DataFrame, part: pd.DataFrame) -> pd.DataFrame:
    """The rows of two frames of `valued_shots` of one player and selection that share no round, in the order and with
    the types of one that is read at once."""
    order = _order(rest, part)
    columns = {name: _column(rest[name], part[name], order) for name in part.columns}
    return pd.DataFrame(columns, copy=False)


def _order(rest: pd.DataFrame, part: pd.DataFrame) -> npt.NDArray[np.intp]:
    """Rows by day and round, each round's own as they stand."""
    ids = pd.concat([rest["round_id"].astype("object"), part["round_id"].astype("object")], ignore_index=True)
    days = np.concatenate([frame["played_on"].to_numpy() for frame in (rest, part)])
    return np.lexsort((pd.factorize(ids, sort=True)[0], days))


def _column(rest: pd.Series, part: pd.Series, order: npt.NDArray[np.intp]) -> Any:
    if isinstance(part.dtype, pd.CategoricalDtype):
        return _categorical(rest, part, order)
    if rest.dtype == part.dtype and part.dtype != object and not isinstance(part.dtype, pd.StringDtype):
        return np.concatenate([rest.to_numpy(), part.to_numpy()])[order]
    cells = np.concatenate([rest.to_numpy(dtype=object), part.to_numpy(dtype=object)])[order]
    cells[pd.isna(cells)] = None
    # a column of one kind whatever the database gave: text where there is one, else objects
    return pd.Series(cells.tolist()) if len(cells) else pd.Series(cells, dtype=object)


def _categorical(rest: pd.Series, part: pd.Series, order: npt.NDArray[np.intp]) -> pd.Categorical:
    first, second = rest.cat, part.cat
    if first.categories.equals(second.categories) and part.name in FIXED:
        return pd.Categorical.from_codes(np.concatenate([first.codes, second.codes])[order], dtype=part.dtype)
    names = sorted({*_used(first), *_used(second)})
    place = {name: at for at, name in enumerate(names)}
    codes = np.concatenate([_recoded(one, place) for one in (first, second)])[order]
    return pd.Categorical.from_codes(codes, categories=pd.Index(names))


def _used(column: Any) -> Sequence[str]:
    codes = np.unique(column.codes)
    found: list[str] = column.categories.take(codes[codes >= 0]).tolist()
    return found


def _recoded(column: Any, place: dict[str, int]) -> npt.NDArray[np.intp]:
    by_code = np.array([*(place.get(name, -1) for name in column.categories), -1], dtype=np.intp)
    return np.asarray(by_code[column.codes])
