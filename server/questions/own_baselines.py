"""Baselines of one's own: where they lie, and how they are written.

They lie in a folder beside the database (for a database that is no file: in `instance/`), or in the one that
PENCILBAG_BASELINES names. Each is a CSV and a TOML of one id, as in `baselines/`. A shipped id always means the shipped
one. Over HTTP they are found by id among the files that are there, never by a path.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any, Final

import pandas as pd

from server.analysis.expected_strokes.baseline import Baseline
from server.analysis.expected_strokes.files import read_about, shipped_ids
from server.analysis.expected_strokes.own_table import DATA, KNOWN, OwnTable
from server.game.lies import GREEN
from server.game.units import FEET_PER_YARD, FOOT, YARD
from server.operation.settings import text
from server.store.private_files import make_folder, write_private

INSTANCE: Final = Path(__file__).resolve().parents[2] / "instance"
ID: Final = re.compile(r"[a-z0-9][a-z0-9_-]{0,59}")


def own_folder(database: str, setting: str | None = None) -> Path:
    """The folder: `setting` (PENCILBAG_BASELINES) when there is one, else `baselines` beside the database."""
    if setting:
        return Path(setting)
    kind, _, place = database.partition(":///")
    beside = Path(place).parent if kind.startswith("sqlite") and place and ":memory:" not in place else INSTANCE
    return beside / "baselines"


def default_folder() -> Path:
    """The folder that the environment names."""
    return own_folder(text("DATABASE"), text("BASELINES"))


def own_ids(folder: Path) -> list[str]:
    """Ids of the own baselines in a folder, sorted; those that a shipped baseline has are passed over."""
    found = {path.stem for path in folder.glob("*.toml") if ID.fullmatch(path.stem)}
    return sorted(found - set(shipped_ids()))


def own_file(folder: Path, baseline_id: str) -> Path | None:
    """The file of an own baseline, or None. Only ids that `own_ids` lists are looked up."""
    return folder / f"{baseline_id}.toml" if baseline_id in own_ids(folder) else None


def own_id(name: str) -> str:
    """The id of the baseline of a player or a squad of that name, such as `wren-quillfeather`."""
    words = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40]
    plain = words or f"player-{hashlib.sha256(name.encode()).hexdigest()[:8]}"
    return f"{plain}-own" if plain in shipped_ids() else plain


def players_in(file: Path) -> set[str]:
    """Ids of the players whose shots an own baseline was learnt from."""
    return {str(player) for player in read_about(file.with_suffix(".toml")).get("players", [])}


def own_of(folder: Path, player_id: str, name: str) -> str | None:
    """The id of a player's own baseline: one that holds that player's shots alone; None when there is none. Of several
    the one that has the player's name, else the one that was made last."""
    alone = [found for found in own_ids(folder) if _players_or_none(folder / f"{found}.toml") == {player_id}]
    if own_id(name) in alone:
        return own_id(name)
    return max(alone, key=lambda found: (_made_on(folder / f"{found}.toml"), found), default=None)


def _players_or_none(file: Path) -> set[str]:
    try:
        return players_in(file)
    except ValueError:
        # a file that cannot be read is nobody's
        return set()


def _made_on(file: Path) -> str:
    fit = read_about(file).get("fit")
    return str(fit.get("made_on", "")) if isinstance(fit, Mapping) else ""


def table_text(table: OwnTable) -> str:
    """The CSV of a fitted table: lie, distance, unit, expected_strokes, known, published, low, high, starts_near."""
    lines = ["lie,distance,unit,expected_strokes,known,published,low,high,starts_near"]
    for row in table.rows.itertuples(index=False):
        unit, factor = (FOOT, FEET_PER_YARD) if row.lie == GREEN else (YARD, 1.0)
        lines.append(
            f"{row.lie},{row.distance_yd * factor:g},{unit},{row.expected:.4f},{row.known},{row.published:g},"
            f"{row.low:.4f},{row.high:.4f},{row.near}"
        )
    return "\n".join(lines) + "\n"


def about_text(
    table: OwnTable,
    published: Baseline,
    baseline_id: str,
    whose: str,
    players: list[str],
    days: tuple[date, date],
    made_on: date,
) -> str:
    """The TOML beside it: identity, what it was learnt from, ranges. `players`: ids of those whose shots it holds."""
    version = f"{days[1].isoformat()}.{hashlib.sha256(table_text(table).encode()).hexdigest()[:8]}"
    source = (
        f"{table.starts} shots on {table.holes} finished holes in {table.rounds} rounds of {whose}, "
        f"{days[0].isoformat()} to {days[1].isoformat()}, offset on {published.id} {published.version}"
    )
    rows: pd.DataFrame = table.rows
    reported = int(rows["known"].eq(DATA).sum())
    top: dict[str, object] = {
        "id": baseline_id,
        "title": f"Own baseline of {whose}",
        "source": source,
        "version": version,
        "population": whose,
        "players": players,
        "how_known": f"{reported} of {len(rows)} rows are based on data; the column known shows which.",
        "units": {"distance": "yards to the hole, feet on the green", "expected_strokes": "strokes to hole out"},
        "fit": {
            "made_on": made_on,
            "first_day": days[0],
            "last_day": days[1],
            "shots": table.starts,
            "holes": table.holes,
            "rounds": table.rounds,
            "offset_size": round(table.size, 4),
            "published": f"{published.id} {published.version}",
            "level": table.level,
        },
        "known": KNOWN,
        "data_range": {lie: _span(lie, *span) for lie, span in table.data_range.items()},
        "valid_range": {lie: _span(lie, *_ends(rows, lie)) for lie in rows["lie"].unique()},
    }
    return _toml(top)


def _ends(rows: pd.DataFrame, lie: str) -> tuple[float, float]:
    yards = rows.loc[rows["lie"].eq(lie), "distance_yd"]
    return float(yards.min()), float(yards.max())


def _span(lie: str, near: float, far: float) -> str:
    unit, factor = (FOOT, FEET_PER_YARD) if lie == GREEN else (YARD, 1.0)
    return f"{near * factor:.4g} to {far * factor:.4g} {unit}"


def _toml(top: Mapping[str, object]) -> str:
    plain = [f"{name} = {_value(value)}" for name, value in top.items() if not isinstance(value, dict)]
    tables = [
        "\n".join([f"\n[{name}]", *(f"{key} = {_value(cell)}" for key, cell in value.items())])
        for name, value in top.items()
        if isinstance(value, dict)
    ]
    return "\n".join([*plain, *tables]) + "\n"


def _value(value: Any) -> str:
    """A TOML value; JSON's strings are TOML's basic strings, but for the delete character."""
    if isinstance(value, date):
        return value.isoformat()
    return json.dumps(value, ensure_ascii=True).replace("\x7f", "\\u007f")


def write_own(file: Path, table: str, about: str) -> Path:
    """Write both files, the CSV at `file` and the TOML beside it, each for its owner alone, both or neither."""
    file = file.with_suffix(".csv")
    make_folder(file.parent)
    for path, words in ((file, table), (file.with_suffix(".toml"), about)):
        fresh = path.with_name(f".{path.name}.new")
        write_private(fresh, words)
        fresh.replace(path)
    return file
