"""A database with something of everything in it, and all that it holds."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from server.store.engine import reading
from server.store.log import push
from server.store.tables import CHANGE, METADATA
from tests.records.made import BODIES, Season, body_of, change, default_clubs, par_four


def everything(engine: sa.Engine) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table, in an order of its own."""
    with reading(engine) as connection:
        return {
            table.name: sorted((tuple(row) for row in connection.execute(sa.select(table))), key=repr)
            for table in METADATA.sorted_tables
        }


def records_in_log(engine: sa.Engine) -> set[str]:
    """Ids of the records that the log speaks of."""
    with reading(engine) as connection:
        return set(connection.execute(sa.select(CHANGE.c.record_id)).scalars())


def full_season(name: str = "Wren Quillfeather", *, practice: bool = True) -> Season:
    """All kinds of records: a conflict, a deleted shot and a deleted round among them. Without `practice` as a server
    has them that does not know practice sessions yet."""
    season = Season(name)
    clubs = default_clubs(season)
    course = season.put("course", "course", BODIES["course"])
    season.put("hole_map", "map", body_of("hole_map", course_id=course))
    season.put("setup", "setup", body_of("setup", club_id=clubs["driver"]))
    round_id = season.round(
        "one",
        {1: (4, 400.0), 2: (4, 400.0)},
        course_id=course,
        tees="middle",
        ball_label="yellow Marigold",
        lengths_taken="guessed",
        green_speed_ft=9.5,
        hole_conditions=[{"hole": 1, "wind": "light", "wind_from_deg": 225, "pin_depth": "back", "pin_side": "left"}],
    )
    par_four(season, round_id, clubs)
    par_four(season, round_id, clubs, hole=2)
    season.changes.append(
        change("shot", None, season.changes[-1]["record_id"], parents=[season.changes[-1]["change_id"]])
    )
    drive = next(one for one in season.changes if one["kind"] == "shot" and one["body"]["hole"] == 2)
    for height in ("high", "low"):
        parents = [season.changes[-1]["change_id"] if height == "low" else drive["change_id"]]
        season.changes.append(
            change(
                "shot",
                drive["body"] | {"planned_height": height, "carry_yd": 231.5},
                drive["record_id"],
                parents=parents,
            )
        )
    driver = next(one for one in season.changes if one["record_id"] == clubs["driver"])
    head = {"record_id": driver["record_id"], "parents": [driver["change_id"]]}
    season.changes += [change("club", body_of("club", label=label), **head) for label in ("left", "right")]
    gone = season.round("two", ball_label="white Curlew")
    season.changes.append(change("round", None, gone, parents=[season.changes[-1]["change_id"]]))
    if practice:
        _practise(season, clubs)
    return season


def _practise(season: Season, clubs: dict[str, str]) -> None:
    """A session with balls, and a deleted one."""
    session = season.put("session", "session", BODIES["session"])
    for order in (1, 2):
        body = body_of("practice_ball", session_id=session, order=order, club_id=clubs["8 iron"], carry_yd=141.0)
        season.put("practice_ball", f"ball {order}", body)
    season.put(
        "practice_ball", "putt", body_of("practice_ball", session_id=session, order=3, length_ft=8.5, holed=True)
    )
    emptied = season.put("session", "another session", BODIES["session"] | {"place": "short_game"})
    season.changes.append(change("session", None, emptied, parents=[season.changes[-1]["change_id"]]))


def filled(engine: sa.Engine, *, practice: bool = True) -> list[Season]:
    """Two players with a season each, and a bad change in the quarantine."""
    seasons = [full_season(name, practice=practice) for name in ("Wren Quillfeather", "Ash Inkwell")]
    for season in seasons:
        done = push(engine, season.player_id, "phone", [*season.changes, change("weather", {})])
        assert (done.new, len(done.quarantined)) == (len(season.changes), 1)
    return seasons
