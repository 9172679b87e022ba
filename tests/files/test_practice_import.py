"""Tables of practice balls: units, sides, faults that name row, column, value and range, and the same file twice."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import sqlalchemy as sa

from server.files.practice_import import import_practice
from server.files.practice_table import read_practice
from server.files.spreadsheets import Reading
from server.files.table_faults import TableError
from server.store.engine import open_database, reading
from server.store.log import push
from server.store.practice import session_by_id, sessions
from server.store.rows import PracticeBallRow
from server.store.tables import CHANGE
from tests.records.made import Season, change, default_clubs

DAY = date(2026, 9, 12)


@pytest.fixture
def engine(tmp_path: Path) -> Iterator[sa.Engine]:
    opened = open_database(f"sqlite:///{tmp_path / 'log.sqlite'}")
    yield opened
    opened.dispose()


@pytest.fixture
def season(engine: sa.Engine) -> Season:
    made = Season()
    default_clubs(made)
    push(engine, made.player_id, "phone", made.changes, strict=True)
    return made


def balls(engine: sa.Engine, player_id: str) -> list[list[PracticeBallRow]]:
    """The balls of every session, latest first."""
    with reading(engine) as connection:
        found = [session_by_id(connection, player_id, one["session_id"]) for one in sessions(connection, player_id)]
    return [one["hit"] for one in found if one is not None]


def stored(engine: sa.Engine) -> int:
    with reading(engine) as connection:
        return int(connection.execute(sa.select(sa.func.count()).select_from(CHANGE)).scalar_one())


def test_units_and_sides(engine: sa.Engine, season: Season) -> None:
    table = (
        "Club,Carry (m),Total,Offline,Units,Target\n"
        "8 iron,128.016,145,12 R,yards,150\n"
        "8 IRON,128.016,132.588,8L,m,\n"
        "driver,,690,-30,feet,\n"
        "driver,,,+4.5,,\n"
    )
    done = import_practice(engine, read_practice(table.encode(), day=DAY), season.player_id, file="range.csv")
    assert (done.rows, done.changes, done.made) == (4, 5, [])
    assert [(one.row, one.date, one.place, one.balls, one.clubs) for one in done.sessions] == [(2, DAY, "range", 4, 2)]
    ((one, two, three, four),) = balls(engine, season.player_id)
    assert (one["carry_yd"], one["total_yd"], one["right_yd"], one["target_yd"]) == pytest.approx((140, 145, 12, 150))
    assert (two["carry_yd"], two["total_yd"], two["right_yd"]) == pytest.approx((140, 145, -8 / 0.9144))
    assert (three["total_yd"], three["right_yd"]) == pytest.approx((230, -10))
    assert four["right_yd"] == 4.5
    assert one["club_id"] == two["club_id"] != three["club_id"]
    with reading(engine) as connection:
        assert sessions(connection, season.player_id)[0]["from_file"] == "range.csv"


def test_putts_of_the_only_putter_and_a_new_club(engine: sa.Engine, season: Season) -> None:
    table = "length,holed,left,units,club,carry\n8,yes,,,,\n30,no,2.5,,,\n3,no,0.3,m,putter,\n,,,,56 wedge,80\n"
    done = import_practice(engine, read_practice(table.encode(), day=DAY), season.player_id)
    assert [(one.place, one.balls) for one in done.sessions] == [("putting_green", 3), ("range", 1)]
    assert done.made == ["club '56 wedge' is new, taken for a wedge"]
    putts = next(one for one in balls(engine, season.player_id) if len(one) == 3)
    assert [(one["length_ft"], one["holed"], one["left_ft"]) for one in putts[:2]] == [
        (8, True, None),
        (30, False, 2.5),
    ]
    assert putts[2]["length_ft"] == pytest.approx(3 / 0.3048)
    assert len({one["club_id"] for one in putts}) == 1


def test_the_same_file_twice_adds_nothing_and_what_was_deleted_stays_deleted(engine: sa.Engine, season: Season) -> None:
    table = b"club,carry,date\n8 iron,140,2026-09-12\n8 iron,141,2026-09-12\n8 iron,139,2026-09-13\n"
    assert import_practice(engine, read_practice(table), season.player_id).changes == 5
    before = stored(engine)
    again = import_practice(engine, read_practice(table), season.player_id)
    assert (again.changes, stored(engine)) == (0, before)
    first = balls(engine, season.player_id)[1][0]
    with reading(engine) as connection:
        made = connection.execute(sa.select(CHANGE.c.change_id).where(CHANGE.c.record_id == first["ball_id"])).scalar()
    push(
        engine,
        season.player_id,
        "phone",
        [change("practice_ball", None, first["ball_id"], parents=[made])],
        strict=True,
    )
    third = import_practice(engine, read_practice(table), season.player_id)
    assert (third.changes, third.kept) == (0, 1)
    assert sorted(len(one) for one in balls(engine, season.player_id)) == [1, 1]


def test_a_unit_in_the_header_is_of_its_column_alone() -> None:
    table = read_practice(b"distance (m),holed,left\n3,no,2\n", day=DAY)
    assert table.rows[0].body == {"length_ft": pytest.approx(3 / 0.3048), "left_ft": 2.0}
    assert read_practice(b"Carry [ M ],club\n100,x\n", day=DAY).rows[0].body["carry_yd"] == pytest.approx(100 / 0.9144)


def test_balls_in_a_parquet_file(tmp_path: Path) -> None:
    typed = {"Club": ["7 iron"], "Carry (m)": [150.5], "date": [date(2026, 5, 1)], "place": ["range"]}
    pq.write_table(pa.table(typed), tmp_path / "balls.parquet")
    (ball,) = read_practice(tmp_path / "balls.parquet").rows
    assert (ball.club, ball.day, ball.body["carry_yd"]) == ("7 iron", date(2026, 5, 1), pytest.approx(150.5 / 0.9144))


def test_two_tables_of_one_day_are_two_sessions(engine: sa.Engine, season: Season) -> None:
    for carry in (140, 150):
        table = f"club,carry\n8 iron,{carry}\n".encode()
        import_practice(engine, read_practice(table, day=DAY), season.player_id)
    assert [len(one) for one in balls(engine, season.player_id)] == [1, 1]


def test_a_preview_stores_nothing(engine: sa.Engine, season: Season) -> None:
    before = stored(engine)
    done = import_practice(engine, read_practice(b"club,carry\nspoon,140\n", day=DAY), season.player_id, dry_run=True)
    assert (done.changes, stored(engine)) == (3, before)


FAULTS = [
    ("club,carry\n8 iron,401\n", "row 2, carry: 401 yd is outside 0 to 400 yd"),
    ("club,carry (m)\n8 iron,366\n", "row 2, carry: 366 m is outside 0 to 365.76 m"),
    ("club,carry,units\n8 iron,1201,feet\n", "row 2, carry: 1201 ft is outside 0 to 1200 ft"),
    ("club,carry\n8 iron,0\n", "row 2, carry: 0 yd is outside 0 to 400 yd"),
    ("club,carry\n8 iron,far\n", "row 2, carry: 'far' is not a number"),
    ("club,carry\n8 iron,nan\n", "row 2, carry: 'nan' is not a finite number"),
    ("club,carry\n8 iron,1_0\n", "row 2, carry: '1_0' is not a number"),
    ("club,offline\n8 iron,R\n", "row 2, offline: 'R' is not a number such as -8, 12 R or 8L"),
    ("club,offline\n8 iron,-8 R\n", "row 2, offline: '-8 R' has a sign and a side: give one of them"),
    ("club,offline\n8 iron,301L\n", "row 2, offline: 301L yd is outside -300 to 300 yd"),
    ("club,carry,units\n8 iron,100,miles\n", "row 2, units: 'miles' is not yards, metres or feet"),
    ("club,carry\n,100\n", "row 2, club: is missing"),
    ("club,carry\n8 iron,\n", "row 2, row: does not show where the ball finished"),
    (
        "club,carry,date\n8 iron,100,12.9.2026\n",
        "row 2, date: '12.9.2026' is not a day such as 2026-05-31; it may be DD.MM.YYYY: choose one",
    ),
    ("club,carry,total\n8 iron,150,120\n", "row 2, total: is under the carry of 150 yd less 15 yd of backspin"),
    ("length,carry\n8,10\n", "row 2, carry: a putt, which has a length in feet, has none"),
    ("length,holed,left\n8,yes,2\n", "row 2, left: a holed ball has nothing left to the hole"),
    ("length,holed\n8,perhaps\n", "row 2, holed: 'perhaps' is neither yes nor no"),
    ("length,holed\n151,no\n", "row 2, length: 151 ft is outside 0 to 150 ft"),
    ("club,carry,place\n8 iron,100,moon\n", "row 2, place: 'moon' is not one of range, putting_green, short_game"),
    ("club,carry\n8 iron,100,5\n", "row 2, row: 3 cells are under 2 columns"),
]


@pytest.mark.parametrize(("table", "words"), FAULTS)
def test_a_bad_cell_is_named(table: str, words: str) -> None:
    with pytest.raises(TableError) as refused:
        read_practice(table.encode(), day=DAY)
    (fault,) = refused.value.faults
    assert str(fault) == words


@pytest.mark.parametrize(
    ("table", "words"),
    [
        (b"", "empty"),
        (b"club,carry\n", "a header and no balls"),
        (b"club,note\n8 iron,x\n", "no column shows where a ball finished"),
        (b"club,carry,Carry\n8 iron,1,2\n", "column carry is there twice"),
        (b'club,carry\n"8 iron,1\n', "not a CSV"),
        (b"club,carry\n\xff\x81,1\n", "neither UTF-8"),
        (b",".join([b"carry"] * 201) + b"\n", "201 columns"),
        (b"club,carry\n" + b"a,1\n" * 30_001, "more than 30000 balls"),
    ],
)
def test_a_table_that_cannot_be_read_says_why(table: bytes, words: str) -> None:
    with pytest.raises(TableError, match=words):
        read_practice(table, day=DAY)


def test_nothing_is_stored_at_a_fault(engine: sa.Engine, season: Season) -> None:
    before = stored(engine)
    many = b"club,carry\n" + b"8 iron,140\n" * 2001
    with pytest.raises(TableError) as refused:
        import_practice(engine, read_practice(many, day=DAY), season.player_id)
    assert "a session has 2000" in str(refused.value.faults[0])
    nobody = Season("Ash Inkwell")
    push(engine, nobody.player_id, "phone", nobody.changes, strict=True)
    with pytest.raises(TableError) as refused:
        import_practice(engine, read_practice(b"length,holed\n8,yes\n", day=DAY), nobody.player_id)
    assert "does not have one putter alone" in str(refused.value.faults[0])
    assert stored(engine) == before + 1


def test_a_day_is_needed() -> None:
    with pytest.raises(TableError) as refused:
        read_practice(b"club,carry\n8 iron,140\n")
    assert str(refused.value.faults[0]) == "row 2, date: is missing: name the day of the session"


def test_guarded_words_come_back(engine: sa.Engine, season: Season) -> None:
    import_practice(engine, read_practice(b"club,carry,offline\n'=iron,140,'-4\n", day=DAY), season.player_id)
    ((ball,),) = balls(engine, season.player_id)
    assert ball["right_yd"] == -4


def test_a_practice_table_as_a_spreadsheet_keeps_it() -> None:
    plain = read_practice(b"club,carry,offline,date\n7 iron,150.5,-8.5,2026-05-31\n7 iron,149,3,2026-05-31\n")
    odd = "Club;Carry;Offline;Date\r\n7 iron;150,5;8,5 L;31.05.2026\r\n7 iron;149;3 R;31.05.2026\r\n".encode("utf-16")
    read = read_practice(odd, reading=Reading(date_format="DD.MM.YYYY"))
    assert read.rows == plain.rows
    assert read.taken == "CSV, UTF-16, semicolons between cells, decimal comma, days DD.MM.YYYY"
    with pytest.raises(TableError) as refused:
        read_practice(odd)
    assert "it may be DD.MM.YYYY: choose one" in str(refused.value.faults[0])
