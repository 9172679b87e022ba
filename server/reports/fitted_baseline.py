"""Baselines fitted to the rounds of a player, of a squad, or of everyone here."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pandas as pd
from sqlalchemy import Connection

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.fit import TooFewShotsError, fit_baseline, strokes_to_hole_out
from server.analysis.expected_strokes.own_table import OwnTable
from server.questions.own_baselines import ID, about_text, default_folder, own_id, table_text, write_own
from server.questions.valued_shots import scheme_of, valued_shots
from server.records.known_names import known_names
from server.store.frames import Selection
from server.store.players import Player, player_by_id, players, players_by_name
from server.store.squads import squad_players

EVERYONE = "everyone"


class OwnerError(ValueError):
    """No player or squad of that name, or more than one."""


@dataclass(frozen=True)
class Fitted:
    """A fitted table with whose shots it holds, from which days, and what it is based on."""

    table: OwnTable
    whose: str
    players: list[str]
    days: tuple[date, date]
    published: Baseline

    def write(self, made_on: date, baseline_id: str | None = None, file: Path | None = None) -> Path:
        """Write it to the usual folder under its id, or to `file`; returns the CSV's path. ValueError for a bad id."""
        name = baseline_id or (file.stem if file else own_id(self.whose))
        if baseline_id and (not ID.fullmatch(name) or own_id(name) != name):
            raise ValueError(f"--id: {name!r} must be small letters, digits and single dashes, and no shipped baseline")
        about = about_text(self.table, self.published, name, self.whose, self.players, self.days, made_on)
        return write_own(file or default_folder() / f"{name}.csv", table_text(self.table), about)


def fit_own(
    connection: Connection,
    whose: str,
    owners: list[Player],
    published: Baseline,
    first: date | None = None,
    last: date | None = None,
    progress: Callable[[int], None] = lambda _owners: None,
) -> Fitted:
    """Fit a baseline to the rounds of these owners between two days. TooFewShotsError in plain words."""

    def frames() -> Iterator[tuple[str, pd.DataFrame]]:
        for owner in owners:
            progress(1)
            selection = Selection(owner.player_id, first, last)
            yield owner.player_id, valued_shots(connection, selection, published, scheme_of(owner))

    return fit_frames(whose, frames(), published)


def fit_frames(whose: str, frames: Iterable[tuple[str, pd.DataFrame]], published: Baseline) -> Fitted:
    """Fit a baseline to shots, a player's at a time: of each, length and strokes needed are kept. `frames`: ids of
    players and their valued shots. TooFewShotsError in plain words."""
    ids, starts, days = [], [], []
    for player_id, valued in frames:
        if not valued.empty:
            ids.append(player_id)
            starts.append(strokes_to_hole_out(valued))
            days += [valued["played_on"].min().date(), valued["played_on"].max().date()]
    if not ids:
        raise TooFewShotsError("there are no shots in these days")
    table = fit_baseline(pd.concat(starts, ignore_index=True), published)
    return Fitted(table, whose, sorted(ids), (min(days), max(days)), published)


def owners_of(connection: Connection, whose: str) -> list[Player]:
    """Whose shots a baseline of that name would hold: a player, a squad, or everyone. OwnerError in plain words."""
    if whose == EVERYONE:
        return players(connection)
    named = players_by_name(connection, whose)
    if len(named) > 1:
        raise OwnerError(f"{len(named)} players are called {whose!r}; rename one first")
    squad = [player_by_id(connection, player_id) for player_id in squad_players(connection, whose)]
    found = named or [player for player in squad if player is not None]
    if not found:
        known = known_names((player.name for player in players(connection)), whose) or "none yet"
        raise OwnerError(
            f"{whose!r} is neither a player ({known}) nor a squad that players share with, nor {EVERYONE!r}"
        )
    return found
