"""Tables of any size and several files: the same records in any order, faults counted, every row or none."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import Any
from uuid import UUID

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
import sqlalchemy as sa

from demo_rounds.generate import FOLDER
from server.files import shots_import, shots_rows
from server.files.import_records import Newcomers
from server.files.shots_import import Taking, import_table
from server.files.shots_rounds import Imported
from server.files.shots_rows import read_table
from server.files.shots_stream import import_files, tables_in
from server.files.table_faults import MOST_KINDS, ONE_BY_ONE, FaultCounts, RowFault, TableError
from server.records.many_shots import Column, Ready, many_shots
from server.store import prepared
from server.store.engine import open_database, reading, unindexed, writing
from server.store.players import players
from server.store.prepared import BY_RANDOM_IDS
from server.store.pulling import pull
from server.store.rebuild import check_database
from server.store.tables import CHANGE, METADATA, SHOT
from server.store.unavailable import FullError
from tests.files.tables import drive_and_putt, row, table
from tests.files.told import written

PLAYERS = ("Wren Quillfeather", "Bramble Inkwell", "Ash O'Larch")


def rounds_of_three() -> list[dict[str, Any]]:
    """Three players with two rounds each, two holes a round."""
    return [
        one
        for name in PLAYERS
        for day in ("2026-05-01", "2026-05-02")
        for hole in (1, 2)
        for one in drive_and_putt(player=name, played_on=day, hole=hole, course="Heath")
    ]


def said(engine: sa.Engine) -> list[tuple[Any, ...]]:
    """What the logs say of every record, whatever the order and the moment."""
    with reading(engine) as connection:
        ids = [player.player_id for player in players(connection)]
    pages = [pull(engine, player_id, None, 5000) for player_id in ids]
    return sorted((one["record_id"], one["kind"], str(one["body"])) for page in pages if page for one in page.changes)


@pytest.fixture
def other(tmp_path: Path) -> sa.Engine:
    return open_database(f"sqlite:///{tmp_path / 'other.sqlite'}")


@pytest.fixture
def put(tmp_path: Path) -> Callable[..., Path]:
    def write(rows: list[dict[str, Any]] | bytes, name: str = "shots.csv") -> Path:
        path = tmp_path / "tables" / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(rows if isinstance(rows, bytes) else table(rows))
        return path

    return write


@pytest.fixture(autouse=True)
def small_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Blocks of few rows, so that a round lies in several of them."""
    monkeypatch.setattr(shots_rows, "MOST_ROWS_A_BLOCK", 5)


def test_rows_in_any_order_give_the_records_of_a_table_in_memory(
    engine: sa.Engine, other: sa.Engine, put: Callable[..., Path]
) -> None:
    rows = rounds_of_three()
    in_memory = import_table(other, read_table(table(rows)))
    shuffled = rows.copy()
    random.Random(4).shuffle(shuffled)
    stages: list[tuple[str, int, int | None]] = []
    dry = import_files(engine, [put(shuffled)], dry_run=True, progress=lambda *one: stages.append(one))
    assert said(engine) == []
    done = import_files(engine, [put(shuffled)], progress=lambda *one: stages.append(one))
    assert said(engine) == said(other)
    assert (done.rows, done.rounds, done.changes, done.kept) == (24, 6, in_memory.changes, 0)
    assert (dry.changes, dry.rounds, sorted(dry.made)) == (done.changes, done.rounds, sorted(in_memory.made))
    for what, steps in (("checking rows", 2 * 24), ("checking players", 2 * 3), ("storing players", 3)):
        assert sum(moved for stage, moved, _ in stages if stage == what) == steps
    # contiguous, and in two files: nothing is new
    for files in ([put(rows)], [put(rows[:12], "a.csv"), put(rows[12:], "b.csv")]):
        again = import_files(engine, files)
        assert (again.rows, again.changes, again.made) == (24, 0, [])
    assert check_database(engine).faults == 0


def refused(engine: sa.Engine, files: list[Path], **how: Any) -> tuple[str, list[str]]:
    """The words of an import that is refused, and its faults in groups; nothing is stored, nothing left beside."""
    before = said(engine)
    with pytest.raises(TableError) as wrong:
        import_files(engine, files, **how)
    assert said(engine) == before
    return str(wrong.value), wrong.value.counts.words


def test_bad_rows_are_counted_to_the_end_and_their_memory_is_bounded(
    engine: sa.Engine, put: Callable[..., Path]
) -> None:
    bad = [row(distance=812 + number % 7) for number in range(500)] + [row(lie="bush")] * 2
    words, groups = refused(engine, [put([*drive_and_putt(), *bad, *drive_and_putt(hole=2)])])
    assert words == "502 cells cannot be read"
    assert groups[0] == "row 4, distance: 812 yd is outside 0 to 700 yd; 499 more like it, the last in row 503"
    assert [one[:8] for one in groups[1:]] == ["row 504,", "row 505,"]
    counts = FaultCounts()
    for number in range(20_000):
        counts.add(RowFault(number, "distance", f"{number} yd is outside 0 to 700 yd"))
        counts.add(RowFault(number, f"column {number}", "is missing"))
    assert (counts.total, counts.beyond) == (40_000, 20_000 - MOST_KINDS + 1)
    assert len(counts.first_ones) == MOST_KINDS - 1 + ONE_BY_ONE
    assert counts.words[-1] == f"... and {counts.beyond} more"


def test_faults_between_rows_and_of_positions_in_a_stream(engine: sa.Engine, put: Callable[..., Path]) -> None:
    good = drive_and_putt(player="Bramble Inkwell")
    words, groups = refused(engine, [put([*good, row(), row(hole=2, length_yd=390, holed="yes")])])
    assert (words, groups) == (
        "1 row does not fit the others",
        ["row 4, holed: the last shot of the ball is neither holed nor has an end"],
    )
    words, groups = refused(engine, [put(good)], taking=Taking(strict=True))
    assert (words, len(groups)) == ("3 names are not known", 3)
    two = [*good, *drive_and_putt()]
    assert "2 players are new" in refused(engine, [put(two)], taking=Taking(newcomers=Newcomers("left")))[0]
    shot = {"shot_id": "00000000-0000-4000-8000-000000000001", "holed": "yes"}
    shared = refused(engine, [put([row(**shot), row(player="Bramble Inkwell", **shot)])])[0]
    assert "00000000-0000-4000-8000-000000000001 is of two players, one of them 'Bramble Inkwell'" in shared


def test_of_several_files_the_bad_one_is_named(engine: sa.Engine, put: Callable[..., Path]) -> None:
    good, bad = put(drive_and_putt(), "a.csv"), put([row(lie="bush"), row(hole=2, par=9)], "b.csv")
    words, groups = refused(engine, [good, bad])
    assert words == "2 cells cannot be read"
    assert [one.partition(": ")[0] for one in groups] == ["row 2 of b.csv, lie", "row 3 of b.csv, par"]
    assert refused(engine, [good, put(b"a,b\n1,2\n", "b.csv")])[0].startswith("b.csv: row 1: missing column player")
    both = put(drive_and_putt(par=5), "b.csv")
    words, groups = refused(engine, [good, both])
    assert (words.endswith("rows do not fit together"), len(groups)) == (True, 1)
    assert groups[0].startswith("a round that is in two files in ")
    assert "the round begins in row 2 of a.csv and in row 2 of b.csv; leave one out" in groups[0]
    # a hole each is one round
    assert import_files(engine, [good, put(drive_and_putt(hole=2), "b.csv")]).rounds == 1


def test_folders_and_files_that_are_none(
    engine: sa.Engine, put: Callable[..., Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    deep = put(drive_and_putt(), "b.csv")
    first = put(drive_and_putt(hole=2), "A.CSV")
    put(b"words", "notes.txt")
    put(b"", ".hidden.csv")
    put(b"\x07Analyst", "~$season.xlsx")  # lies beside a workbook while a spreadsheet program has it open
    assert tables_in([deep.parent]) == [first, deep]
    (tmp_path / "empty").mkdir()
    for places, words in (
        ([tmp_path / "empty"], r"^the folder has no table \(.csv, .parquet, .xlsx\)$"),
        ([deep, tmp_path / "empty"], "^empty: the folder has no table"),
        ([deep, deep.parent], "^b.csv is there twice: name each file once"),
        ([Path("/dev/null")], "^is neither a file nor a folder$"),
    ):
        with pytest.raises(TableError, match=words):
            tables_in(places)

    def no_entry(_: Path, *__: Any, **___: Any) -> Any:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", no_entry)
    with pytest.raises(TableError, match=r"^b.csv: the file cannot be read: Permission denied"):
        import_files(engine, [deep, first])


def as_parquet(path: Path, content: pa.Table) -> Path:
    pq.write_table(content, path)
    return path


def test_the_season_table_of_an_export_comes_back_from_parquet(
    season_engine: sa.Engine, engine: sa.Engine, put: Callable[..., Path]
) -> None:
    in_csv, in_parquet = (put(written(season_engine, "shots", make), f"shots.{make}") for make in ("csv", "parquet"))
    assert import_files(engine, [in_parquet]).taken == "Parquet"
    before = said(engine)
    again = import_files(engine, [in_csv])
    assert (again.changes, said(engine)) == (0, before)
    # the same rounds in a CSV and a Parquet file are told, not stored twice
    words, groups = refused(engine, [in_csv, in_parquet])
    assert "rows do not fit together" in words
    assert groups[0].startswith("a round that is in two files")


def test_a_parquet_of_another_make(engine: sa.Engine, put: Callable[..., Path], tmp_path: Path) -> None:
    rows = drive_and_putt(note="'=1+1", course="=Heath", target_yd=250.125)
    columns = {name: [one.get(name) for one in rows] for name in rows[1]}
    sound = pa.table(
        columns | {"holed": [False, True], "played on": pa.array([20574, 20574], pa.int32()).cast("date32")}
    )
    sound = sound.drop_columns(["played_on"])
    done = import_files(engine, [as_parquet(tmp_path / "a.parquet", sound)])
    assert (done.rows, done.changes) == (2, 7)
    bodies = " ".join(words for _, _, words in said(engine))
    for part in ("'note': \"'=1+1\"", "'name': '=Heath'", "'played_on': '2026-05-01'", "'target_yd': 250.125"):
        assert part in bodies
    # beside a CSV; what a file has no column for stays as it was
    mixed = [as_parquet(tmp_path / "a.parquet", sound), put(drive_and_putt(hole=2, strike="thin"), "b.csv")]
    assert import_files(engine, mixed).taken == "Parquet (a.parquet); CSV, UTF-8, commas between cells (b.csv)"

    def told(content: pa.Table) -> str:
        return refused(engine, [as_parquet(tmp_path / "a.parquet", content)])[0]

    assert "missing column lie" in told(sound.drop_columns(["lie"]))
    nested = sound.drop_columns(["lie"]).append_column("lie", [[["tee"], ["green"]]])
    assert told(nested).startswith("column lie is list<")
    assert "missing column player" in told(pa.table({"x": [1], "y": [[2]]}))
    assert told(sound.slice(0, 0)) == "the file has a header and no shots"
    far = sound.set_column(sound.schema.get_field_index("hole"), "hole", [["one", "two"]])
    assert refused(engine, [as_parquet(tmp_path / "a.parquet", far)])[1][0].startswith(
        "row 2, hole: 'one' is not a whole"
    )
    cut = tmp_path / "a.parquet"
    cut.write_bytes(cut.read_bytes()[:-20])
    assert refused(engine, [cut])[0].startswith("the file is not a Parquet file that can be read: ")
    with pytest.raises(TableError, match="read on the command line alone"):
        read_table(cut.read_bytes())


def test_no_room_for_what_is_kept_meanwhile_stores_nothing(
    engine: sa.Engine, put: Callable[..., Path], tmp_path: Path
) -> None:
    file = put([one | {"note": "n" * 400} for one in rounds_of_three() * 1])
    with pytest.raises(FullError, match=r"no room is left in .*while it checks: .*; nothing was stored"):
        import_files(engine, [file], most_bytes=65_536)
    assert said(engine) == []
    assert list(tmp_path.glob(".pencilbag-import-*")) == []
    assert import_files(engine, [file]).rows == 24


def test_what_is_listed_of_a_large_import_is_bounded() -> None:
    done = Imported()
    done.met((number, "club", f"club 'c{number}' is new, taken for an iron") for number in range(5_000))
    assert len(done.made) == 1_000
    assert done.news.words == [
        "row 0, club: club 'c0' is new, taken for an iron; 4999 more like it, the last in row 4999"
    ]


NOW = datetime(2026, 11, 1, 12, tzinfo=UTC)


class At(datetime):
    """A clock that stands."""

    @classmethod
    def now(cls, tz: tzinfo | None = None) -> At:
        return cls.fromtimestamp(NOW.timestamp(), tz)


@pytest.fixture
def one_moment(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every import in the same moment: what is stored of it is then the same to the last column."""
    monkeypatch.setattr(shots_import, "datetime", At)


def kept(engine: sa.Engine) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table."""
    with reading(engine) as connection:
        queries = {one.name: sa.select(one).order_by(*one.primary_key) for one in METADATA.sorted_tables}
        return {name: list(map(tuple, connection.execute(query))) for name, query in queries.items()}


def awkward(**same: Any) -> list[dict[str, Any]]:
    """Shots with everything that a table can say, noughts of both signs and words of every sort."""
    told = [
        row(note='=1 "quoted" back\\, ä — 球', swing="full", right_yd="-0", long_yd="0", carry_yd="230.5"),
        row(shot=2, lie="green", distance=9, club="putter", holed="yes", right_yd="0", long_yd="-0"),
        row(hole=2, penalty_strokes=1, penalty_reason="lost"),
        row(hole=2, shot=2, lon="-2.81234", lat="56.34321", accuracy_m=4, end_lie="green", end_distance=3),
        row(hole=3, lon="-2.81235", lat="56.34322", strike="heel", actual_shape="draw"),
        row(hole=3, shot=2, lie="fairway", distance=0.1, holed="no"),
        row(hole=4, end_lie="sand", end_distance="12.345678901234567"),
        row(hole=4, ball=2, provisional="yes", end_lie="rough", end_distance=1),
    ]
    return [one | {"kind": "casual", "course": "Heath", "tees": "white"} | same for one in told]


def tables_of(what: str) -> tuple[bytes, bytes | None, int]:
    """A table, one that was imported before, and how many of its shots are looked at together."""
    if what == "demo":
        content = (FOLDER / "season_2026.csv").read_bytes()
        return content, None, content.count(b"\n") - 1
    first, second = awkward(), awkward(played_on="2026-05-03", tees="")
    if what == "one id twice":
        first[-1]["shot_id"] = second[-1]["shot_id"] = str(UUID(int=7))
        return table(first + second), None, 0
    if what == "partly known":
        return table(awkward(club="2 iron", played_on="2026-05-02") + first + second), table(first), 16
    return table(first + second), None, 16


@pytest.mark.parametrize("what", ["demo", "awkward", "partly known", "one id twice"])
@pytest.mark.usefixtures("one_moment")
def test_shots_looked_at_together_are_kept_as_one_by_one(
    engine: sa.Engine, other: sa.Engine, put: Callable[..., Path], monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    content, known, new = tables_of(what)
    for one in (engine, other) if known else ():
        import_files(one, [put(known)])
    file = put(content)
    together: list[int] = []

    def counted(values: Mapping[str, Column]) -> Ready:
        found = many_shots(values)
        together.append(len(found.words) - len(found.doubtful))
        return found

    def none(values: Mapping[str, Column]) -> Ready:
        places = set(range(len(values["hole"])))
        return Ready([], {}, places) if places else many_shots(values)

    monkeypatch.setattr(shots_rows, "MOST_ROWS_A_BLOCK", 4_096)
    monkeypatch.setattr(shots_import, "many_shots", counted)
    import_files(engine, [file])
    assert together == [new]
    monkeypatch.setattr(shots_import, "many_shots", none)
    import_files(other, [file])
    assert kept(engine) == kept(other)
    assert check_database(engine).faults == 0


@pytest.mark.usefixtures("one_moment")
def test_an_import_larger_than_the_log_makes_the_indexes_anew(
    engine: sa.Engine, other: sa.Engine, put: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[Any] = []

    def noted(connection: sa.Connection, names: Any) -> Any:
        made.append(names)
        return unindexed(connection, names)

    monkeypatch.setattr(prepared, "unindexed", noted)
    rows = rounds_of_three()
    import_files(other, [put(rows)])
    assert made == []  # few
    monkeypatch.setattr(prepared, "MANY", 4)
    before = indexes(engine)
    import_files(engine, [put(rows)])
    assert made == [BY_RANDOM_IDS]
    assert indexes(engine) == before
    assert kept(engine) == kept(other)
    more = [one | {"played_on": "2026-05-03"} for one in rows]
    import_files(engine, [put(more[:4])])
    assert made == [BY_RANDOM_IDS]  # more is there than comes
    # an id that is there twice is refused when the index is made, and all of it undone
    for of, other_key in ((CHANGE, {"seq": 1_000, "record_seq": 2}), (SHOT, {})):
        with reading(engine) as connection:
            twice = dict(connection.execute(sa.select(of)).mappings().first() or {})
        with pytest.raises(sa.exc.IntegrityError), writing(engine) as connection, unindexed(connection, BY_RANDOM_IDS):
            connection.execute(sa.insert(of), twice | other_key)
        assert indexes(engine) == before
    assert check_database(engine).faults == 0


@pytest.mark.usefixtures("one_moment")
def test_shots_are_corrected_while_the_index_of_their_ids_is_away(
    engine: sa.Engine, other: sa.Engine, put: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = rounds_of_three()
    again = [
        one | {"lie": "sand"} if one["played_on"] == "2026-05-01" and one["lie"] == "green" else one for one in rows
    ]
    again += [one | {"played_on": f"2026-05-{day:02}"} for one in rows[:4] for day in range(3, 15)]
    for one in (engine, other):
        import_files(one, [put(rows)])
    import_files(other, [put(again)])
    monkeypatch.setattr(prepared, "MANY", 4)
    seen: list[str] = []
    sa.event.listen(engine, "before_cursor_execute", lambda *call: seen.append(call[2]))
    import_files(engine, [put(again)])
    assert kept(engine) == kept(other)
    gone = [words for words in seen if words.startswith("DELETE FROM shot ")]
    assert gone
    if engine.dialect.name == "sqlite":
        assert all("player_id" in words for words in gone)  # or each would look through all shots
    assert check_database(engine).faults == 0


def indexes(engine: sa.Engine) -> set[tuple[str, str | None]]:
    """The indexes of the database, in its words."""
    if engine.dialect.name != "sqlite":
        return set()
    with reading(engine) as connection:
        found = connection.execute(sa.text("SELECT name, sql FROM sqlite_master WHERE type = 'index'"))
        return {(row.name, row.sql) for row in found}
