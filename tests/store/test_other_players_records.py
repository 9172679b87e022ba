"""A record that names another player's course, club or setup shows nothing of that player."""

from __future__ import annotations

from datetime import date

import pytest
import sqlalchemy as sa

from server.analysis.expected_strokes.baseline import load_baseline
from server.game.categories import CategoryScheme
from server.questions.valued_shots import valued_shots
from server.store.engine import reading
from server.store.frames import UNKNOWN_CLUB, Selection, shots_frame
from server.store.hole_maps import mapped_holes
from server.store.log import push
from server.store.players import round_by_id, rounds
from server.store.season_rows import clubs_frame, rounds_frame, shots_of_clubs
from tests.records.made import Season, body_of, default_clubs, par_four

SECRET = "Gorsebury"
FIRST, LAST = date(2026, 1, 1), date(2026, 12, 31)


@pytest.fixture
def house(engine: sa.Engine) -> tuple[sa.Engine, Season, Season]:
    """Two players; each round, club and setup of the first names what the second owns."""
    other, mine = Season("Hollis Marl"), Season()
    course = other.put("course", "course", body_of("course", name=f"{SECRET} Links"))
    other.put("hole_map", "map", body_of("hole_map", course_id=course))
    theirs = default_clubs(other) | {"driver": other.club(f"{SECRET} driver", "driver")}
    par_four(other, other.round("theirs", course_id=course, played_on="2026-04-01"), theirs)
    own = default_clubs(mine)
    round_id = mine.round("mine", course_id=course, bag=[theirs["driver"]])
    par_four(mine, round_id, own | {"driver": theirs["driver"]})
    other.put("setup", "setup", body_of("setup", club_id=own["8 iron"], note=f"{SECRET} shaft"))
    for season in (other, mine):
        assert push(engine, season.player_id, "phone", season.changes).quarantined == []
    return engine, mine, other


def test_no_look_into_the_store_joins_across_players(house: tuple[sa.Engine, Season, Season]) -> None:
    engine, mine, _ = house
    with reading(engine) as connection:
        whole = shots_frame(connection, Selection())
        told = valued_shots(connection, Selection(), load_baseline(), CategoryScheme())
        used = shots_of_clubs(connection, [mine.player_id], FIRST, LAST)
        looks = {
            "the round": round_by_id(connection, mine.player_id, rounds(connection, mine.player_id)[0]["round_id"]),
            "rounds": rounds(connection, mine.player_id),
            "shots": shots_frame(connection, Selection(mine.player_id)).to_csv(),
            "shots of all": whole[whole["player_id"] == mine.player_id].to_csv(),
            "valued shots of all": told[told["player_id"] == mine.player_id].to_csv(),
            "rows of rounds": rounds_frame(connection, Selection(mine.player_id)).to_csv(),
            "rows of clubs": clubs_frame(connection, [mine.player_id], used).to_csv(),
            "maps": mapped_holes(connection, mine.player_id),
        }
    assert {name for name, found in looks.items() if SECRET in str(found)} == set()
    assert (whole["club"] == UNKNOWN_CLUB).sum() == 1
    assert looks["rounds"][0]["course"] is None  # type: ignore[index]


def test_the_owner_still_sees_it_all(house: tuple[sa.Engine, Season, Season]) -> None:
    engine, _, other = house
    with reading(engine) as connection:
        found = shots_frame(connection, Selection(other.player_id))
        assert set(found["course"]) == {f"{SECRET} Links"}
        assert f"{SECRET} driver" in set(found["club"])
        assert rounds(connection, other.player_id)[0]["course"] == f"{SECRET} Links"


def test_another_players_course_filters_nothing(house: tuple[sa.Engine, Season, Season]) -> None:
    engine, mine, other = house
    with reading(engine) as connection:
        found = shots_frame(connection, Selection(course=f"{SECRET} Links"))
    assert set(found["player_id"]) == {other.player_id} != {mine.player_id}
