"""Reading a shots table cell by cell: what each column takes, and the words said about what it does not."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from server.files.shots_rows import read_table
from server.files.table_faults import TableError
from tests.files.tables import USUAL, drive_and_putt, row, table


def faults_of(*rows: dict[str, Any], **how: Any) -> list[str]:
    """Every fault as it is printed."""
    with pytest.raises(TableError) as refused:
        read_table(table(list(rows)), **how)
    return [str(fault) for fault in refused.value.faults] or [str(refused.value)]


LIES = "tee, fairway, fringe, rough, sand, recovery, green"

BAD_CELLS: list[tuple[dict[str, Any], str]] = [
    ({"distance": 812}, "distance: 812 yd is outside 0 to 700 yd"),
    ({"distance": 0}, "distance: 0 yd is outside 0 to 700 yd"),
    ({"distance": -5}, "distance: -5 yd is outside 0 to 700 yd"),
    ({"distance": "1e9"}, "distance: 1e9 yd is outside 0 to 700 yd"),
    ({"distance": "NaN"}, "distance: 'NaN' is not a finite number"),
    ({"distance": "inf"}, "distance: 'inf' is not a finite number"),
    ({"distance": "far"}, "distance: 'far' is not a number"),
    ({"distance": "4_00"}, "distance: '4_00' is not a number"),
    ({"distance": "400,5,5"}, "distance: '400,5,5' is not a number"),
    ({"distance": "400 yd"}, "distance: '400 yd' is not a number"),
    ({"distance": "\N{ARABIC-INDIC DIGIT FOUR}"}, "distance: '\N{ARABIC-INDIC DIGIT FOUR}' is not a number"),
    ({"distance": ""}, "distance: is missing"),
    ({"lie": "green", "distance": 90, "unit": "yd"}, "distance: 90 yd is outside 0 to 50 yd"),
    ({"lie": "green", "distance": 151}, "distance: 151 ft is outside 0 to 150 ft"),
    ({"lie": "green", "distance": 46, "unit": "m"}, "distance: 46 m is outside 0 to 45.72 m"),
    ({"distance": 641, "unit": "m"}, "distance: 641 m is outside 0 to 640.08 m"),
    ({"distance": 2101, "unit": "ft"}, "distance: 2101 ft is outside 0 to 2100 ft"),
    ({"unit": "km"}, "unit: 'km' is not one of yd, ft, m"),
    ({"lie": "bush"}, f"lie: 'bush' is not one of {LIES}"),
    ({"lie": ""}, f"lie: '' is not one of {LIES}"),
    ({"player": ""}, "player: is missing"),
    ({"player": "x" * 81}, "player: 81 characters are more than 80"),
    (
        {"played_on": "31.05.2026"},
        "played_on: '31.05.2026' is not a day such as 2026-05-31; it may be DD.MM.YYYY: choose one",
    ),
    (
        {"played_on": "03/04/2026"},
        "played_on: '03/04/2026' is not a day such as 2026-05-31; it may be DD/MM/YYYY or MM/DD/YYYY: choose one",
    ),
    ({"played_on": "2026-02-29"}, "played_on: '2026-02-29' is not a day such as 2026-05-31"),
    ({"played_on": "20260531"}, "played_on: '20260531' is not a day such as 2026-05-31"),
    ({"played_on": "2026-W01-1"}, "played_on: '2026-W01-1' is not a day such as 2026-05-31"),
    ({"played_on": ""}, "played_on: '' is not a day such as 2026-05-31"),
    ({"kind": "match"}, "kind: 'match' is not one of practice, casual, competition"),
    ({"hole": 0}, "hole: 0 is outside 1 to 36"),
    ({"hole": 37}, "hole: 37 is outside 1 to 36"),
    ({"hole": 1.5}, "hole: '1.5' is not a whole number"),
    ({"hole": "nan"}, "hole: 'nan' is not a whole number"),
    ({"hole": "1e999"}, "hole: '1e999' is not a whole number"),
    ({"hole": ""}, "hole: is missing"),
    ({"par": 2}, "par: 2 is outside 3 to 6"),
    ({"par": 7}, "par: 7 is outside 3 to 6"),
    ({"length_yd": 0}, "length_yd: 0 yd is outside 0 to 700 yd"),
    ({"length_yd": 701}, "length_yd: 701 yd is outside 0 to 700 yd"),
    ({"ball": 31}, "ball: 31 is outside 1 to 30"),
    ({"shot": 0}, "shot: 0 is outside 1 to 99"),
    ({"shot": 100}, "shot: 100 is outside 1 to 99"),
    ({"shot": "two"}, "shot: 'two' is not a whole number"),
    ({"club": ""}, "club: is missing"),
    ({"club": "c" * 61}, "club: 61 characters are more than 60"),
    ({"holed": "maybe"}, "holed: 'maybe' is neither yes nor no"),
    ({"penalty_strokes": 3, "penalty_reason": "lost"}, "penalty_strokes: 3 is outside 0 to 2"),
    (
        {"penalty_reason": "wind"},
        "penalty_reason: 'wind' is not one of out_of_bounds, lost, penalty_area, unplayable, other",
    ),
    (
        {"penalty_strokes": 1},
        "penalty_reason: 1 penalty strokes need a reason (out_of_bounds, lost, penalty_area, unplayable, other)",
    ),
    ({"end_lie": "rough"}, "end_distance: an end needs both end_lie and end_distance"),
    ({"end_distance": 9}, "end_distance: an end needs both end_lie and end_distance"),
    ({"end_lie": "green", "end_distance": 151}, "end_distance: 151 ft is outside 0 to 150 ft"),
    ({"end_lie": "green", "end_distance": 9, "end_unit": "foot"}, "end_unit: 'foot' is not one of yd, ft, m"),
    ({"end_lie": "rough", "end_distance": 9, "holed": "yes"}, "holed: a holed shot has no other end"),
    ({"swing": "half"}, "swing: 'half' is not one of full, part"),
    ({"carry_yd": "401"}, "carry_yd: 401 yd is outside 0 to 400 yd"),
    ({"carry_yd": "-5"}, "carry_yd: -5 yd is outside 0 to 400 yd"),
    (
        {
            "lie": "fairway",
            "distance": "120",
            "end_lie": "green",
            "end_distance": "5",
            "end_unit": "yd",
            "carry_yd": "141",
        },
        "carry_yd: is outside 0 to 140 yd: the shot's whole length and 15 yd",
    ),
    ({"planned_height": "medium"}, "planned_height: 'medium' is not one of low, normal, high"),
    ({"planned_shape": "slice"}, "planned_shape: 'slice' is not one of draw, straight, fade"),
    ({"actual_shape": "hook"}, "actual_shape: 'hook' is not one of draw, straight, fade"),
    ({"target_yd": 0}, "target_yd: 0 yd is outside 0 to 700 yd"),
    ({"right_yd": 301}, "right_yd: 301 yd is outside -300 to 300 yd"),
    ({"long_yd": -701}, "long_yd: -701 yd is outside -700 to 300 yd"),
    ({"strike": "shank"}, "strike: 'shank' is not one of centre, heel, toe, high, low, thin, fat"),
    ({"lon": "180.5", "lat": "47.361"}, "lon: 180.5 degrees is outside -180 to 180 degrees"),
    ({"lon": "east", "lat": "47.361"}, "lon: 'east' is not a number"),
    ({"lon": "nan", "lat": "47.361"}, "lon: 'nan' is not a finite number"),
    ({"lon": "8.53012", "lat": "181"}, "lat: 181 degrees is outside -180 to 180 degrees"),
    (
        {"lon": "47.36012", "lat": "138.53012"},
        "lat: 138.53012 degrees is outside -90 to 90 degrees: are longitude and latitude swapped?",
    ),
    ({"lon": "8.53012"}, "lat: is missing: a position needs both lon and lat"),
    ({"lat": "47.36012"}, "lon: is missing: a position needs both lon and lat"),
    ({"accuracy_m": "4"}, "accuracy_m: an accuracy needs both lon and lat"),
    ({"lon": "8.53012", "lat": "47.36012", "accuracy_m": "-4"}, "accuracy_m: -4 m is outside 0 to 100000 m"),
    ({"lon": "0", "lat": "0.0"}, "lon: 0, 0 is what a device writes that has no position"),
    (
        {"lon": "8.53", "lat": "47.361"},
        "lon: 8.53 and lat 47.361 have 3 decimals or fewer, which is right to 111 m; a position needs 4 or more, "
        "or none is given",
    ),
    ({"course": "c" * 121}, "course: 121 characters are more than 120"),
    ({"tees": "t" * 61}, "tees: 61 characters are more than 60"),
    ({"ball_label": "b" * 61}, "ball_label: 61 characters are more than 60"),
    ({"lengths_taken": "eyed"}, "lengths_taken: 'eyed' is not one of paced, laser, guessed, position, map"),
    ({"note": "n" * 2001}, "note: 2001 characters are more than 2000"),
    ({"provisional": "yes"}, "provisional: a provisional ball has a number above 1"),
]


@pytest.mark.parametrize(("cells", "words"), BAD_CELLS, ids=[words[:50] for _, words in BAD_CELLS])
def test_a_bad_cell_is_named_by_row_column_value_and_range(cells: dict[str, Any], words: str) -> None:
    assert f"row 3, {words}" in faults_of(row(), row(shot=2, **cells) if "shot" not in cells else row(**cells))


def test_every_fault_of_every_row_is_named_in_order() -> None:
    assert faults_of(row(distance=812, lie="bush"), row(club="", hole=0)) == [
        f"row 2, lie: 'bush' is not one of {LIES}",
        "row 2, distance: 812 yd is outside 0 to 700 yd",
        "row 3, hole: 0 is outside 1 to 36",
        "row 3, club: is missing",
    ]


def test_blank_cells_take_their_defaults() -> None:
    (read,) = read_table(table([row()])).rows
    assert (read["kind"], read["ball"], read["penalty_strokes"], read["holed"]) == ("practice", 1, 0, None)
    assert (read["course"], read["tees"], read["end_lie"], read["end_distance_yd"]) == (None, None, None, None)
    assert (read["provisional"], read["played_on"], read["row"]) == (False, date(2026, 5, 1), 2)


@pytest.mark.parametrize(
    ("cells", "yards"),
    [
        ({"lie": "rough", "distance": 150}, 150.0),
        ({"lie": "rough", "distance": 150, "unit": "m"}, 150 / 0.9144),
        ({"lie": "rough", "distance": 150, "unit": "ft"}, 50.0),
        ({"lie": "green", "distance": 18}, 6.0),
        ({"lie": "green", "distance": 6, "unit": "yd"}, 6.0),
        ({"lie": "green", "distance": 45.72, "unit": "m"}, 50.0),
        ({"lie": "fringe", "distance": 18}, 18.0),
        ({"lie": "rough", "distance": "+1.5e2"}, 150.0),
        ({"lie": "rough", "distance": 700}, 700.0),
        ({"lie": "rough", "distance": 640.08, "unit": "m"}, 700.0),
    ],
)
def test_units_of_a_distance(cells: dict[str, Any], yards: float) -> None:
    (read,) = read_table(table([row(**cells)])).rows
    assert read["distance_yd"] == pytest.approx(yards, rel=1e-15)
    end = {f"end_{name}": cell for name, cell in cells.items()}
    (read,) = read_table(table([row(**end)])).rows
    assert read["end_distance_yd"] == pytest.approx(yards, rel=1e-15)


@pytest.mark.parametrize("yes", ["yes", "Y", "TRUE", "1", "Yes"])
@pytest.mark.parametrize("no", ["no", "N", "false", "0"])
def test_yes_and_no(yes: str, no: str) -> None:
    rows = read_table(table([row(holed=yes), row(shot=2, holed=no)])).rows
    assert [read["holed"] for read in rows] == [True, False]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_line_ends_byte_order_mark_quotes_and_blank_lines(end: str, mark: bytes) -> None:
    rows = [row(note='said "why, not"\nand left'), row(shot=2, note="Ä五")]
    content = mark + table(rows, end=end)
    blank = content.replace(end.encode() + USUAL["player"].encode(), end.encode() * 2 + USUAL["player"].encode())
    for one in (content, blank, content + end.encode() * 3):
        read = read_table(one).rows
        assert [found["note"] for found in read] == ['said "why, not"\nand left', "Ä五"]
        assert read[0]["player"] == USUAL["player"]


def test_columns_may_stand_in_any_order_and_others_are_passed_over() -> None:
    names = ["moon", *reversed(USUAL), "strokes_gained", "expected_before"]
    read = read_table(table([row(moon="full", strokes_gained=1)], names))
    assert read.ignored == ["moon"]
    assert read.rows == read_table(table([row()])).rows
    spaced = table([row()]).replace(b"player,", b" player , ", 1)
    assert read_table(spaced).rows == read.rows


def test_short_rows_are_blank_at_the_end_and_long_ones_are_named() -> None:
    content = table([row()], [*USUAL, "note"])
    assert read_table(content.replace(b"driver,", b"driver")).rows[0]["note"] is None
    with pytest.raises(TableError) as refused:
        read_table(content.replace(b"driver,", b"driver,a,b"))
    assert [str(fault) for fault in refused.value.faults] == ["row 2, row: 11 cells are under 10 columns"]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "the file is empty: a header and at least one row are needed"),
        (b"\xef\xbb\xbf", "the file is empty"),
        (b" \r\n\n", "the file is empty"),
        (b"player\xff\x81", "neither UTF-8 (byte 6 cannot be read) nor Windows-1252 (byte 7)"),
        (b"\xef\xbb\xbfplayer\xff", "the file is not UTF-8: byte 9 cannot be read"),
        (table([row()]).decode().encode("utf-16")[:-1], "the file is not UTF-16: byte "),
        (
            table([row()]).decode().encode("utf-16-le"),
            "NUL characters: it is not a CSV; UTF-16 needs a byte order mark",
        ),
        (b"player\0", "the file contains NUL characters: it is not a CSV"),
        (table([row()])[: table([row()]).index(b"\n") + 1], "the file has a header and no shots"),
        (b"a;b;c\n1;2;3\n", "row 1: missing column player, played_on, hole, par, length_yd, shot, lie, distance, club"),
        (table([row()]).replace(b"par,", b"pra,", 1), "row 1: missing column par "),
        (table([row()]).replace(b"par,", b"hole,", 1), "row 1: missing column par "),
        (
            table([row()]).replace(b"distance,", b"distance (m),", 1),
            "the unit of a distance goes into a column of its own",
        ),
        (b"par," + table([row()]), "row 1: column par is there twice"),
        (b'"' + table([row()]), "the file is not a CSV"),
        (table([row(note="x")]).replace(b",x\n", b',"x\n'), "the file is not a CSV: unexpected end of data"),
        (table([row(note="n" * 200_000)]), "a cell has more than 131072 characters"),
    ],
)
def test_a_file_that_is_no_table_gets_one_clear_line(content: bytes, words: str) -> None:
    with pytest.raises(TableError) as refused:
        read_table(content)
    assert words in str(refused.value)
    assert refused.value.faults == []


def test_a_named_player_owns_every_row() -> None:
    no_column = table([{name: cell for name, cell in row().items() if name != "player"}])
    assert read_table(no_column, "Ash").rows[0]["player"] == "Ash"
    assert read_table(table([row(player="")]), "Ash").rows[0]["player"] == "Ash"
    assert read_table(table(drive_and_putt(player="Ash")), "Ash").rows[1]["player"] == "Ash"
    assert faults_of(row(player="Birch"), player="Ash") == [
        "row 2, player: 'Birch' is not 'Ash', whose rounds are imported"
    ]
    assert faults_of(row(player=""), player="x" * 81) == ["row 2, player: 81 characters are more than 80"]
    assert "cannot be stored" in faults_of(row(player=""), player="\udcff")[0]
    with pytest.raises(TableError, match="missing column player"):
        read_table(no_column)
