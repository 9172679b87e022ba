"""Rows become records: all or nothing, twice the same, edits kept, new names named."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from uuid import uuid4

import pandas as pd
import pytest
import sqlalchemy as sa

from server.analysis.expected_strokes.baseline import load_baseline
from server.files.import_records import guessed_sort
from server.files.season_tables.package import write_tables
from server.files.season_tables.seasons import open_season
from server.files.shots_import import Imported, import_table
from server.files.shots_rows import read_table
from server.files.table_faults import TableError
from server.store.engine import reading
from server.store.frames import Selection, shots_frame
from server.store.log import push
from server.store.players import club_ids, courses, heads, players, round_by_id, rounds
from server.store.pulling import pull
from tests.files.tables import drive_and_putt, row, table
from tests.records.made import Season, body_of, change


def take(engine: sa.Engine, rows: list[dict[str, Any]], **how: Any) -> Imported:
    return import_table(engine, read_table(table(rows)), **how)


def refused(engine: sa.Engine, rows: list[dict[str, Any]], **how: Any) -> list[str]:
    """Every fault of an import that must not be taken, and that must have stored nothing."""
    before = everything(engine)
    with pytest.raises(TableError) as wrong:
        take(engine, rows, **how)
    assert everything(engine) == before
    return [str(fault) for fault in wrong.value.faults] or [str(wrong.value)]


def everything(engine: sa.Engine) -> list[Any]:
    """The whole log of every player."""
    with reading(engine) as connection:
        ids = [player.player_id for player in players(connection)]
    pages = [pull(engine, player_id, None, 5000) for player_id in ids]
    return [page.changes for page in pages if page]


def shots(engine: sa.Engine) -> list[dict[str, Any]]:
    with reading(engine) as connection:
        return list(shots_frame(connection, Selection()).to_dict("records"))


def the_player(engine: sa.Engine) -> str:
    with reading(engine) as connection:
        (player,) = players(connection)
    return player.player_id


def test_what_is_met_for_the_first_time_is_made_and_named(engine: sa.Engine) -> None:
    done = take(engine, drive_and_putt(course="Blottingham Heath", tees="middle"))
    assert (done.rows, done.rounds, done.kept) == (2, 1, 0)
    # player, course, round, two clubs, two shots
    assert done.changes == 7
    assert done.made == [
        "player 'Wren Quillfeather' is new; right-handed (--left) and yards (--units) are assumed",
        "club 'driver' is new, taken for a driver",
        "club 'putter' is new, taken for a putter",
        "course 'Blottingham Heath' is new",
    ]
    player_id = the_player(engine)
    with reading(engine) as connection:
        (found,) = rounds(connection, player_id)
        card = round_by_id(connection, player_id, found["round_id"])
        known = courses(connection, player_id)
        clubs = club_ids(connection, player_id)
    assert card is not None
    assert card["holes"] == [{"number": 1, "par": 4, "length_yd": 400}]
    assert (card["closed"], card["tees"], sorted(card["bag"])) == (True, "middle", sorted(clubs.values()))
    (tees,) = known["Blottingham Heath"][1]
    assert (tees["name"], tees["holes"]) == ("middle", card["holes"])


def test_importing_twice_changes_nothing(engine: sa.Engine) -> None:
    rows = drive_and_putt(course="Blottingham Heath") + drive_and_putt(hole=2, kind="casual", note="windy")
    take(engine, rows)
    before = everything(engine)
    for again in (rows, rows[::-1]):
        done = take(engine, again)
        assert (done.changes, done.kept, done.made) == (0, 0, [])
    assert everything(engine) == before


def test_the_order_of_the_rows_does_not_matter(engine: sa.Engine) -> None:
    rows = drive_and_putt() + drive_and_putt(hole=2, played_on="2026-04-01")
    take(engine, rows[::-1])
    assert [(one["played_on"].month, one["order"], one["holed"]) for one in shots(engine)] == [
        (4, 1, False),
        (4, 2, True),
        (5, 1, False),
        (5, 2, True),
    ]
    assert take(engine, rows).changes == 0


def test_a_corrected_table_changes_the_corrected_shot_alone(engine: sa.Engine) -> None:
    rows = drive_and_putt()
    take(engine, rows)
    rows[0]["distance"] = 401
    assert take(engine, rows).changes == 1
    assert [one["distance_yd"] for one in shots(engine)] == [401, 3]
    # the first table again does not turn the correction back
    rows[0]["distance"] = 400
    done = take(engine, rows)
    assert (done.changes, done.kept) == (0, 1)
    assert [one["distance_yd"] for one in shots(engine)] == [401, 3]


@pytest.mark.parametrize("deleted", [False, True])
def test_an_import_after_an_edit_keeps_the_edit(engine: sa.Engine, deleted: bool) -> None:
    rows = drive_and_putt()
    take(engine, rows)
    player_id = the_player(engine)
    page = pull(engine, player_id, None)
    assert page is not None
    last = next(found for found in page.changes if found["kind"] == "shot" and found["body"]["order"] == 2)
    body = None if deleted else last["body"] | {"distance_yd": 4, "note": "measured"}
    push(engine, player_id, "phone", [change("shot", body, last["record_id"], parents=[last["change_id"]])])
    done = take(engine, rows)
    assert (done.changes, done.kept) == (0, 1)
    found = [(one["distance_yd"], one["note"] == "measured") for one in shots(engine)]
    assert found == ([(400, False)] if deleted else [(400, False), (4, True)])


def test_a_dry_run_stores_nothing_and_says_what_an_import_would(engine: sa.Engine) -> None:
    rows = drive_and_putt(course="Blottingham Heath")
    dry = take(engine, rows, dry_run=True)
    assert everything(engine) == []
    wet = take(engine, rows)
    assert dry == wet
    assert take(engine, rows, dry_run=True).changes == 0
    # a dry run meets what only the records of an import can meet
    clubs = [row(shot=number, club=f"club {number}", holed="yes" if number == 61 else "") for number in range(1, 62)]
    for cells in clubs[1:]:
        cells["lie"] = "rough"
    assert refused(engine, clubs, dry_run=True) == refused(engine, clubs)
    assert "up to 60 clubs" in refused(engine, clubs)[0]


def test_strict_names_every_stranger_and_takes_what_is_known(engine: sa.Engine) -> None:
    rows = drive_and_putt(course="Blottingham Heath")
    assert refused(engine, rows, strict=True) == [
        "row 2, player: player 'Wren Quillfeather' is new; right-handed (--left) and yards (--units) are assumed "
        "(--strict)",
        "row 2, club: club 'driver' is new, taken for a driver (--strict)",
        "row 3, club: club 'putter' is new, taken for a putter (--strict)",
        "row 2, course: course 'Blottingham Heath' is new (--strict)",
    ]
    take(engine, rows)
    later = drive_and_putt(course="Blottingham Heath", played_on="2026-05-02")
    assert take(engine, later, strict=True).changes == 3
    later[0]["club"] = "7 wood"
    assert refused(engine, later, strict=True) == ["row 2, club: club '7 wood' is new, taken for a wood (--strict)"]


BETWEEN_ROWS: dict[str, tuple[list[dict[str, Any]], list[str]]] = {
    "blank holed on the last shot": (
        [row()],
        ["row 2, holed: the last shot of the ball is neither holed nor has an end"],
    ),
    "a gap": (
        [row(), row(shot=3, lie="green", distance=9, holed="yes")],
        ["row 3, shot: shot 3 comes without shot 2 before it"],
    ),
    "a longer gap": (
        [row(), row(shot=5, lie="green", distance=9, holed="yes")],
        ["row 3, shot: shot 5 comes without shot 2 to 4 before it"],
    ),
    "one number twice": (
        [*drive_and_putt(), row(shot=2, lie="green", distance=9, holed="yes")],
        ["row 4, shot: two shots of this ball have the number 2"],
    ),
    "after holed": (
        [*drive_and_putt(), row(shot=3, lie="green", distance=3, holed="yes")],
        ["row 4, holed: shot 3 comes after shot 2 was holed"],
    ),
    "not from the tee": (
        [row(lie="fairway", holed="yes")],
        ["row 2, lie: the first shot of a hole is from the tee, not from fairway"],
    ),
    "an extra ball in a competition": (
        [row(kind="competition", holed="yes"), row(kind="competition", ball=2, holed="yes")],
        ["row 3, ball: ball 2 is an extra ball, and a competition round takes only ball 1 (rule 5.5)"],
    ),
    "an extra ball in a casual round": (
        [row(kind="casual", holed="yes"), row(kind="casual", ball=2, holed="yes")],
        ["row 3, ball: ball 2 is an extra ball, and a casual round takes only ball 1 (rule 5.5)"],
    ),
    "two pars of one hole": (
        [row(), row(shot=2, lie="green", distance=9, holed="yes", par=5, length_yd=401)],
        [
            "row 3, par: 5 differs from 4 of the same hole in row 2",
            "row 3, length_yd: 401 differs from 400 of the same hole in row 2",
        ],
    ),
}


@pytest.mark.parametrize("name", BETWEEN_ROWS)
def test_rows_that_do_not_fit_together_are_named_and_nothing_is_stored(engine: sa.Engine, name: str) -> None:
    rows, expected = BETWEEN_ROWS[name]
    assert refused(engine, rows) == expected


def test_one_bad_round_among_good_ones_stores_none_of_them(engine: sa.Engine) -> None:
    good = drive_and_putt(played_on="2026-04-01")
    assert refused(engine, [*good, row(player="Somebody Else")]) == [
        "row 4, holed: the last shot of the ball is neither holed nor has an end"
    ]


def test_no_says_picked_up_and_an_end_may_be_given(engine: sa.Engine) -> None:
    rows = [
        row(holed="no"),
        row(hole=2, holed="no", end_lie="rough", end_distance=90),
        row(hole=3, end_lie="green", end_distance=9),
    ]
    take(engine, rows)
    found = [(one["picked_up"], one["holed"], one["end_distance_yd"]) for one in shots(engine)]
    assert str(found) == "[(True, False, nan), (True, False, 90.0), (False, False, 3.0)]"
    assert take(engine, rows).changes == 0


def test_a_provisional_ball_is_kept_in_a_competition(engine: sa.Engine) -> None:
    rows = [
        row(kind="competition", penalty_strokes=1, penalty_reason="lost"),
        row(kind="competition", ball=2, provisional="yes", holed="no"),
        row(kind="competition", shot=2, holed="yes"),
    ]
    take(engine, rows)
    assert [(one["ball"], one["provisional"]) for one in shots(engine)] == [(1, False), (1, False), (2, True)]


def test_what_is_odd_but_possible_is_noted(engine: sa.Engine) -> None:
    rows = [
        row(kind="competition", penalty_strokes=1, penalty_reason="out_of_bounds"),
        row(kind="competition", shot=2, lie="rough", distance=200, holed="yes", moon="full"),
    ]
    rows += [row(kind="competition", hole=number, club=f"club {number}", holed="yes") for number in range(2, 16)]
    notes = take(engine, rows).notes
    assert notes[0] == "column moon is not known and was ignored"
    bag = "15 clubs are in the bag, rule 4.1b allows 14 in a counting round"
    same_spot = "after out_of_bounds for one stroke the next shot is played from the same spot (rule 18.2b), tee 400 yd"
    assert notes[1:3] == [f"row 2, club: round of 2026-05-01: {bag}", f"row 3, distance: {same_spot}"]


def test_an_unusual_pair_of_par_and_length_is_noted_once(engine: sa.Engine) -> None:
    rows = [row(par=5, length_yd=205), row(par=5, length_yd=205, shot=2, lie="green", distance=9, holed="yes")]
    rows += [row(hole=2, par=3, length_yd=172, holed="yes"), row(hole=3, par=3, length_yd=430, holed="yes")]
    assert take(engine, rows).notes[:2] == [
        "row 2, length_yd: a par 5 of 205 yd is unusual",
        "row 5, length_yd: a par 3 of 430 yd is unusual",
    ]


def test_a_course_known_with_fewer_holes_gains_the_new_ones(engine: sa.Engine) -> None:
    take(engine, drive_and_putt(course="Heath", tees="middle"))
    take(engine, drive_and_putt(course="Heath", tees="middle", hole=7, played_on="2026-05-02"))
    take(engine, drive_and_putt(course="Heath", tees="back", length_yd=430, played_on="2026-05-03"))
    with reading(engine) as connection:
        ((_, tees),) = courses(connection, the_player(engine)).values()
    assert {one["name"]: [hole["number"] for hole in one["holes"]] for one in tees} == {"middle": [1, 7], "back": [1]}
    assert take(engine, drive_and_putt(course="Heath", tees="middle", hole=7, played_on="2026-05-02")).changes == 0


def test_rounds_of_one_day_are_told_apart_by_kind_course_tees_and_round_id(engine: sa.Engine) -> None:
    one = drive_and_putt(course="Heath", round_id="a")
    two = drive_and_putt(course="Heath", round_id="b")
    other = [drive_and_putt(**cells) for cells in ({"kind": "casual"}, {"course": "Links"}, {"tees": "back"})]
    rows = [cells for group in (one, two, *other) for cells in group]
    done = take(engine, rows)
    assert done.rounds == 5
    assert len({found["round_id"] for found in shots(engine)}) == 5
    assert take(engine, rows).changes == 0
    # without the column the two cannot be told apart, and the table says so
    for cells in rows:
        cells.pop("round_id", None)
    words = refused(engine, rows)[0]
    assert words == (
        "row 4, shot: two shots of this ball have the number 1; two rounds of one day are separated by the column round"
    )


def round_bodies(engine: sa.Engine) -> list[dict[str, Any]]:
    """What the log says of rounds, earliest change first."""
    return [change["body"] for page in everything(engine) for change in page if change["kind"] == "round"]


def test_the_ball_of_a_round_and_the_height_of_a_shot_are_taken(engine: sa.Engine) -> None:
    hole = drive_and_putt()
    take(engine, [hole[0] | {"ball_label": "yellow Marigold", "planned_height": "low"}, hole[1] | {"ball_label": ""}])
    assert [body["ball_label"] for body in round_bodies(engine)] == ["yellow Marigold"]
    found = [(one["ball_label"], one["planned_height"], one["ball"]) for one in shots(engine)]
    assert [found[0], found[1][::2]] == [("yellow Marigold", "low", 1), ("yellow Marigold", 1)]
    assert pd.isna(found[1][1])


def test_a_table_that_names_no_ball_leaves_the_one_that_was_named(engine: sa.Engine) -> None:
    take(engine, drive_and_putt(ball_label="yellow Marigold"))
    take(engine, [*drive_and_putt(), *drive_and_putt(hole=2)])
    assert [body["ball_label"] for body in round_bodies(engine)] == ["yellow Marigold"] * 2
    take(engine, drive_and_putt(ball_label="white Curlew"))
    assert round_bodies(engine)[-1]["ball_label"] == "white Curlew"


def test_a_table_without_a_column_leaves_what_was_recorded(engine: sa.Engine) -> None:
    """An older version exports no planned heights: its table, mended and read in again, takes none away."""
    told = [{"planned_height": "low", "strike": "thin"}, {}]
    take(engine, [one | more for one, more in zip(drive_and_putt(), told, strict=True)])
    take(engine, drive_and_putt(strike="", note="mended"))
    drive, _ = shots(engine)
    assert (drive["planned_height"], drive["note"]) == ("low", "mended")
    assert pd.isna(drive["strike"]), "a column that is there and empty says that nothing is told"


def test_a_carry_is_taken_in_and_left_where_a_table_has_no_column(engine: sa.Engine) -> None:
    hole = drive_and_putt()
    take(engine, [hole[0] | {"carry_yd": "180.5"}, hole[1] | {"carry_yd": ""}])
    assert shots(engine)[0]["carry_yd"] == 180.5
    assert pd.isna(shots(engine)[1]["carry_yd"])
    take(engine, drive_and_putt(note="mended"))
    assert (shots(engine)[0]["carry_yd"], shots(engine)[0]["note"]) == (180.5, "mended")


def test_two_balls_in_one_round_are_named(engine: sa.Engine) -> None:
    hole = drive_and_putt(ball_label="yellow Marigold")
    words = "'white Curlew' differs from 'yellow Marigold' of the same round in row 2"
    assert refused(engine, [hole[0], hole[1] | {"ball_label": "white Curlew"}]) == [f"row 3, ball_label: {words}"]


def test_how_lengths_were_taken_is_taken_in_and_left_where_a_table_is_silent(engine: sa.Engine) -> None:
    hole = drive_and_putt(lengths_taken="laser")
    take(engine, [hole[0] | {"lengths_taken": ""}, hole[1]])
    take(engine, [*drive_and_putt(), *drive_and_putt(hole=2)])
    assert [body["lengths_taken"] for body in round_bodies(engine)] == ["laser"] * 2
    assert {one["lengths_taken"] for one in shots(engine)} == {"laser"}
    words = "'map' differs from 'guessed' of the same round in row 2"
    hole = drive_and_putt(lengths_taken="guessed")
    assert refused(engine, [hole[0], hole[1] | {"lengths_taken": "map"}]) == [f"row 3, lengths_taken: {words}"]


def test_a_round_that_grows_is_the_same_round(engine: sa.Engine) -> None:
    front, back = drive_and_putt(), drive_and_putt(hole=2)
    take(engine, front)
    take(engine, front + back)
    with reading(engine) as connection:
        (found,) = rounds(connection, the_player(engine))
    assert found["shots"] == 4


def test_a_later_hole_by_itself_joins_its_round(engine: sa.Engine) -> None:
    take(engine, drive_and_putt())
    take(engine, drive_and_putt(hole=2))
    with reading(engine) as connection:
        (found,) = rounds(connection, the_player(engine))
        whole = round_by_id(connection, the_player(engine), found["round_id"])
    assert found["shots"] == 4
    assert whole is not None
    assert [hole["number"] for hole in whole["holes"]] == [1, 2]


def test_importing_an_export_into_its_own_database_changes_nothing(engine: sa.Engine, tmp_path: Path) -> None:
    """A round that came by phone keeps its ids, where its shots were made, and fields that the table does not know."""
    made = Season("Wren Quillfeather")
    club = made.club("driver", "driver")
    where = {"position": [1.0, 2.0, 5.0], "at": "2026-05-01T09:30:00.000Z", "mood": "calm"}
    shot_id = made.shot(made.round("one", closed=True, bag=[club]), 1, 1, "tee", 400, club, holed=True, **where)
    assert push(engine, made.player_id, "phone", made.changes).quarantined == []
    content = season_file(engine, tmp_path)
    done = import_table(engine, read_table(content))
    assert (done.changes, done.kept) == (0, 0)
    corrected = import_table(engine, read_table(content.replace(b",400", b",390")))
    assert corrected.changes == 2
    with reading(engine) as connection:
        head = heads(connection, [shot_id])[shot_id]
    assert head.body is not None
    assert (head.body["distance_yd"], head.body["position"], head.body["mood"]) == (390, [1.0, 2.0, 5.0], "calm")


def test_positions_of_a_player_who_shares_them_come_back_as_they_were(engine: sa.Engine, tmp_path: Path) -> None:
    """To the digit; and a flag that was marked stays with its hole when the round's table is read in again."""
    made = Season("Lark Sedgewick", shares_positions=True)
    club = made.club("driver", "driver")
    holes = [{"number": 1, "par": 4, "length_yd": 400, "flag": [8.5345678, 47.3612345, 3.5]}]
    round_id = made.put("round", "one", body_of("round", holes=holes, bag=[club], closed=True))
    where = [8.5301234, 47.3601234, 4.2]
    made.shot(round_id, 1, 1, "tee", 400, club, position=where)
    made.shot(round_id, 1, 2, "fairway", 150, club, holed=True)
    assert push(engine, made.player_id, "phone", made.changes).quarantined == []
    content = season_file(engine, tmp_path)
    assert [row["position"] for row in read_table(content).rows] == [where, None]
    done = import_table(engine, read_table(content))
    assert (done.changes, done.kept) == (0, 0)
    import_table(engine, read_table(content.replace(b",400", b",390")))
    with reading(engine) as connection:
        head = heads(connection, [round_id])[round_id]
    assert head.body is not None
    assert head.body["holes"] == [holes[0] | {"length_yd": 390}]


def season_file(engine: sa.Engine, folder: Path) -> bytes:
    """The season's shots table as a file holds it."""
    with reading(engine) as connection:
        season = open_season(connection, 2026, load_baseline("tour"))
        (path,) = write_tables(season, folder, ["shots"], ["csv"], package=False)
    return path.read_bytes()


def test_two_players_of_one_name_are_not_guessed_between(engine: sa.Engine) -> None:
    for _ in range(2):
        player_id = str(uuid4())
        push(engine, player_id, "phone", [change("player", body_of("player"), player_id)])
    assert refused(engine, drive_and_putt()) == ["player: 2 players are called 'Wren Quillfeather'; rename one first"]


def test_a_player_who_came_by_phone_gets_the_rounds(engine: sa.Engine) -> None:
    player_id, club_id = str(uuid4()), str(uuid4())
    club = change("club", body_of("club"), club_id)
    push(engine, player_id, "phone", [change("player", body_of("player", plays="left"), player_id), club])
    done = take(engine, drive_and_putt())
    assert done.made == ["club 'putter' is new, taken for a putter"]
    found = shots(engine)
    assert {one["player_id"] for one in found} == {player_id}
    assert found[0]["club_id"] == club_id


def test_players_of_one_table_keep_their_own_records(engine: sa.Engine) -> None:
    take(engine, drive_and_putt(course="Heath") + drive_and_putt(course="Heath", player="Other"))
    found = shots(engine)
    for name in ("player_id", "round_id", "club_id"):
        assert {one[name] for one in found[:2]}.isdisjoint({one[name] for one in found[2:]})


@pytest.mark.parametrize(
    ("label", "sort"),
    [
        ("Driver", "driver"),
        ("1W", "driver"),
        ("3 wood", "wood"),
        ("5w", "wood"),
        ("4 hybrid", "hybrid"),
        ("4h", "hybrid"),
        ("7 iron", "iron"),
        ("7i", "iron"),
        ("pitching wedge", "wedge"),
        ("PW", "wedge"),
        ("54 wedge", "wedge"),
        ("56", "wedge"),
        ("60 deg", "wedge"),
        ("putter", "putter"),
        ("pt", "putter"),
        ("old faithful", "iron"),
    ],
)
def test_the_sort_of_a_club_is_guessed_from_its_label(label: str, sort: str) -> None:
    assert guessed_sort(label, False) == sort
    assert guessed_sort("old faithful", True) == "putter"
