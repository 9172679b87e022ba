"""Tables as people keep them: every usual make gives the same rows, and what may mean two things is refused."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import sqlalchemy as sa

from server.files import sheet_books, sheet_texts
from server.files.season_tables.dictionary import tables
from server.files.shots_import import import_table
from server.files.shots_rows import Table, read_table
from server.files.spreadsheets import Reading
from server.files.table_faults import RowFault, TableError, grouped
from tests.files.tables import drive_and_putt, row, table

ROWS = [
    *drive_and_putt(note="Zoë said, ‘wind’", target_yd=250.5, course="Blottingham Heath"),
    row(hole=2, shot=1, distance=380.25, holed="yes", note="x; y", course="Blottingham Heath"),
]
PLAIN = table(ROWS)


def of(separator: str, *, comma: bool = False) -> str:
    """The rows with another separator and, if wanted, a decimal comma."""
    names = list(dict.fromkeys(name for one in ROWS for name in one))
    lines = [names, *[[one.get(name, "") for name in names] for one in ROWS]]

    def cell(value: Any) -> str:
        words = str(value).replace(".", ",") if comma and isinstance(value, float) else str(value)
        return f'"{words}"' if any(mark in words for mark in (separator, ",", ";")) else words

    return "\r\n".join(separator.join(map(cell, line)) for line in lines) + "\r\n"


def book(rows: list[list[Any]], *more: tuple[str, list[list[Any]]], title: str = "rounds") -> bytes:
    """A workbook whose first sheet holds these rows, and further sheets."""
    made = openpyxl.Workbook()
    first = made.active
    assert first is not None
    first.title = title
    for sheet, cells in [(first, rows), *((made.create_sheet(name), cells) for name, cells in more)]:
        for one in cells:
            sheet.append(one)
    held = io.BytesIO()
    made.save(held)
    return held.getvalue()


def typed(rows: list[dict[str, Any]] = ROWS) -> list[list[Any]]:
    names = list(dict.fromkeys(name for one in rows for name in one))
    days = [one | {"played_on": datetime.fromisoformat(one["played_on"])} for one in rows]
    return [names, *[[one.get(name) for name in names] for one in days]]


def values(read: Table) -> list[dict[str, Any]]:
    return [dict(one) for one in read.rows]


MAKES: dict[str, tuple[bytes, str]] = {
    "semicolons": (of(";").encode(), "CSV, UTF-8, semicolons between cells"),
    "tabs": (of("\t").encode(), "CSV, UTF-8, tabs between cells"),
    "decimal comma": (of(";", comma=True).encode(), "CSV, UTF-8, semicolons between cells, decimal comma"),
    "decimal comma and tabs": (of("\t", comma=True).encode(), "CSV, UTF-8, tabs between cells, decimal comma"),
    "quoted decimal comma": (of(",", comma=True).encode(), "CSV, UTF-8, commas between cells, decimal comma"),
    "byte order mark": (of(",").encode("utf-8-sig"), "CSV, UTF-8 with a byte order mark, commas between cells"),
    "UTF-16": (of("\t").encode("utf-16"), "CSV, UTF-16, tabs between cells"),
    "UTF-16, other end first": (b"\xfe\xff" + of(";").encode("utf-16-be"), "CSV, UTF-16, semicolons between cells"),
    "Windows-1252": (of(";").encode("cp1252"), "CSV, Windows-1252 (not sound UTF-8), semicolons between cells"),
    "XLSX": (book(typed()), "XLSX, sheet 'rounds'"),
}


@pytest.mark.parametrize("make", MAKES)
def test_every_make_gives_the_same_rows_and_is_named(make: str) -> None:
    content, words = MAKES[make]
    read = read_table(content)
    assert values(read) == values(read_table(PLAIN))
    assert read.taken == words


def test_a_file_on_disk_is_read_as_its_bytes_are(tmp_path: Path) -> None:
    for content in (PLAIN, MAKES["XLSX"][0], MAKES["UTF-16"][0]):
        path = tmp_path / "table"
        path.write_bytes(content)
        assert read_table(path) == read_table(content)


def test_names_and_words_in_any_case() -> None:
    rows = [row(penalty_strokes=1, penalty_reason="penalty_area", kind="casual", unit="yd", holed="yes", swing="full")]
    odd = table(rows).decode().replace("penalty_area", "Penalty Area").replace("casual", "CASUAL")
    odd = odd.replace("tee,", "Tee,").replace(",yd,", ",YD,").replace("full", "Full")
    header, body = odd.split("\n", 1)
    header = header.replace("played_on", "Played on").replace("penalty_reason", "PENALTY-REASON").title()
    assert values(read_table(f"{header}\n{body}".encode())) == values(read_table(table(rows)))


# --- decimal marks


def semicolons(*cells: dict[str, Any]) -> bytes:
    return table([row(**one) for one in cells]).replace(b",", b";").replace(b"|", b",")


def test_what_may_be_thousands_or_decimals_is_refused_until_it_is_settled() -> None:
    content = semicolons({"distance": "1|234", "unit": "ft"}, {"distance": "1|500", "unit": "ft"})
    with pytest.raises(TableError) as refused:
        read_table(content)
    (found,) = grouped(refused.value.faults)
    assert (found.count, found.first.row, found.first.value, found.first.option) == (2, 2, "1,234", "decimal")
    assert str(found).startswith(
        "a comma that may be decimal or part thousands in 2 cells, first row 2, distance (1,234)"
    )
    point = read_table(content, reading=Reading(decimal="point"))
    comma = read_table(content, reading=Reading(decimal="comma"))
    assert [one["distance_yd"] for one in point.rows] == pytest.approx([1234 / 3, 500])
    assert [one["distance_yd"] for one in comma.rows] == pytest.approx([1.234 / 3, 0.5])


def test_one_certain_decimal_comma_settles_the_others() -> None:
    read = read_table(semicolons({"distance": "1|234"}, {"distance": "12|5"}))
    assert [one["distance_yd"] for one in read.rows] == [1.234, 12.5]


@pytest.mark.parametrize(
    ("decimal", "words"),
    [
        (None, "decimal comma beside decimal points in 2 cells, first row 2, distance (12,5)"),
        ("point", "decimal comma in 2 cells, first row 2, distance (12,5)"),
        ("comma", "decimal point in 1 cell, first row 3, distance (13.5)"),
    ],
)
def test_two_marks_in_one_file_are_refused_in_one_line(decimal: str | None, words: str) -> None:
    content = semicolons({"distance": "12|5"}, {"distance": "13.5"}, {"target_yd": "7|25", "distance": 9})
    content = table([row(distance="12|5", target_yd=""), row(distance=13.5), row(distance=9, target_yd="7|25")])
    content = content.replace(b",", b";").replace(b"|", b",")
    with pytest.raises(TableError) as refused:
        read_table(content, reading=Reading(decimal=decimal))
    assert [str(one).partition(":")[0] for one in grouped(refused.value.faults)] == [words]


def test_commas_in_words_are_no_decimal_commas() -> None:
    assert read_table(table([row(note="1,5"), row(distance=12.5)])).rows[1]["distance_yd"] == 12.5


# --- separators, days, sheets


def test_a_header_that_two_separators_fit_is_refused_until_one_is_named() -> None:
    content = PLAIN.replace(b"hole,par", b"hole;x,par", 1)
    with pytest.raises(TableError, match="missing column hole"):
        read_table(content)
    for both in (b"hole,par;shot,lie;club\n", b"hole;par,shot;lie,club\n"):
        with pytest.raises(TableError, match="row 1 can be read with commas or semicolons") as refused:
            read_table(both)
        assert refused.value.option == "separator"
    assert len(read_table(of(";").encode(), reading=Reading(separator="semicolon")).rows) == 3
    with pytest.raises(TableError, match="missing column"):
        read_table(of(";").encode(), reading=Reading(separator="tab"))


@pytest.mark.parametrize(
    ("cell", "form", "day"),
    [
        ("03/04/2026", "DD/MM/YYYY", date(2026, 4, 3)),
        ("03/04/2026", "MM/DD/YYYY", date(2026, 3, 4)),
        ("3.4.2026", "DD.MM.YYYY", date(2026, 4, 3)),
        ("31-05-2026", "DD-MM-YYYY", date(2026, 5, 31)),
        ("2026/5/31", "YYYY/MM/DD", date(2026, 5, 31)),
        ("2026-05-31", "MM/DD/YYYY", date(2026, 5, 31)),
    ],
)
def test_other_days_by_their_form(cell: str, form: str, day: date) -> None:
    (read,) = read_table(table([row(played_on=cell)]), reading=Reading(date_format=form)).rows
    assert read["played_on"] == day


@pytest.mark.parametrize(
    ("cell", "form"), [("31/05/2026", "MM/DD/YYYY"), ("29.02.2026", "DD.MM.YYYY"), ("1/2/26", None)]
)
def test_a_day_that_the_form_does_not_fit_is_named(cell: str, form: str | None) -> None:
    with pytest.raises(TableError) as refused:
        read_table(table([row(played_on=cell)]), reading=Reading(date_format=form))
    assert [(fault.row, fault.column, fault.value) for fault in refused.value.faults] == [(2, "played_on", cell)]


def test_days_of_another_form_are_one_line_with_what_settles_them() -> None:
    with pytest.raises(TableError) as refused:
        read_table(table([row(played_on="03/04/2026")] * 7))
    (found,) = grouped(refused.value.faults)
    assert (found.count, found.first.option) == (7, "date-format")
    assert "it may be DD/MM/YYYY or MM/DD/YYYY" in str(found)


def test_of_several_sheets_the_one_with_the_columns_is_taken_and_two_are_refused() -> None:
    about = ("about", [["word", "meaning"], ["lie", "where"]])
    assert len(read_table(book(typed(), about)).rows) == 3
    two = book(typed(), ("more", typed()[:2]))
    with pytest.raises(TableError, match="2 of them have the columns") as refused:
        read_table(two)
    assert refused.value.option == "sheet"
    read = read_table(two, reading=Reading(sheet="more"))
    assert (len(read.rows), read.taken) == (1, "XLSX, sheet 'more'")
    with pytest.raises(TableError, match="'none' is not one of its sheets: 'rounds', 'more'"):
        read_table(two, reading=Reading(sheet="none"))
    with pytest.raises(TableError, match="none of them has the columns"):
        read_table(book([["a"]], ("b", [["c"]])))
    with pytest.raises(TableError, match="has no sheets"):
        read_table(PLAIN, reading=Reading(sheet="more"))


def test_the_row_of_units_of_an_exported_workbook_is_passed_over() -> None:
    columns = tables()["shots"].columns
    cells = row(holed="yes")
    rows = [[one.name for one in columns], [one.unit for one in columns], [cells.get(one.name) for one in columns]]
    read = read_table(book(rows))
    assert [one["row"] for one in read.rows] == [3]
    rows[1][rows[0].index("club")] = "driver"  # no row of units any more
    with pytest.raises(TableError) as refused:
        read_table(book(rows))
    assert {fault.row for fault in refused.value.faults} == {2}


def test_words_and_typed_numbers_of_a_workbook() -> None:
    rows = typed([row(distance=120.5, note="=1+1", holed=True), row(distance="12,5", target_yd=1.5)])
    rows[1][rows[0].index("note")] = "'=1+1"
    first, second = read_table(book(rows)).rows
    assert (first["note"], first["holed"], first["distance_yd"]) == ("=1+1", True, 120.5)
    assert (second["distance_yd"], second["target_yd"]) == (12.5, 1.5)  # typed numbers have no mark to be confused
    rows[1][rows[0].index("played_on")] = datetime(2026, 5, 31, 9, 30)  # noqa: DTZ001
    with pytest.raises(TableError, match="1 cell cannot be read"):
        read_table(book(rows))


# --- bombs and broken workbooks


def changed(content: bytes, change: Callable[[str, bytes], bytes], extra: dict[str, bytes] | None = None) -> bytes:
    """The workbook with its parts changed."""
    held = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, change(name, old.read(name)))
        for name, words in (extra or {}).items():
            new.writestr(name, words)
    return held.getvalue()


SHEET = "xl/worksheets/sheet1.xml"
SOUND = MAKES["XLSX"][0]


def in_sheet(old: bytes, new: bytes) -> bytes:
    done = changed(SOUND, lambda name, words: words.replace(old, new, 1) if name == SHEET else words)
    assert done != SOUND
    return done


BROKEN: dict[str, tuple[Callable[[], bytes], str]] = {
    "entities": (
        lambda: in_sheet(b"<worksheet", b'<!DOCTYPE x [<!ENTITY a "aaaa">]><worksheet'),
        "declares a document type",
    ),
    "cut short": (lambda: SOUND[: len(SOUND) // 2], "not an XLSX that can be read"),
    "not well formed": (lambda: in_sheet(b"</row>", b"<row>"), "not an XLSX that can be read"),
    "another zip": (lambda: _zip({"a.txt": b"x"}), "a zip and not an XLSX"),
    "no sheet": (
        lambda: changed(SOUND, lambda name, words: b"" if name == SHEET else words),
        "not an XLSX that can be",
    ),
    "a formula without its result": (
        lambda: in_sheet(b"<v>4</v></c>", b"<f>2+2</f><v></v></c>"),
        "formulas without results",
    ),
    "3,000 parts": (
        lambda: changed(SOUND, lambda _, words: words, {f"x{n}": b"" for n in range(3000)}),
        "parts; the most",
    ),
    "words of 41 MB": (
        lambda: changed(SOUND, lambda _, words: words, {"xl/more.xml": b" " * 41_000_000}),
        "has 41 MB unpacked; the most is 40 MB",
    ),
    "old workbook": (lambda: sheet_books.OLD_BOOK + b"\0" * 600, "save it as XLSX or CSV"),
}


def _zip(parts: dict[str, bytes]) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as made:
        for name, words in parts.items():
            made.writestr(name, words)
    return held.getvalue()


@pytest.mark.parametrize("name", BROKEN)
def test_a_workbook_that_cannot_be_read_is_one_line(name: str) -> None:
    make, words = BROKEN[name]
    with pytest.raises(TableError, match=words.replace("(", r"\(")) as refused:
        read_table(make())
    assert (len(str(refused.value)) < 400, refused.value.faults) == (True, [])


def test_a_claimed_size_and_far_cells_cost_nothing() -> None:
    (claim,) = re.findall(rb'<dimension ref="[^"]*"', zipfile.ZipFile(io.BytesIO(SOUND)).read(SHEET))
    claimed = in_sheet(claim, b'<dimension ref="A1:XFD1048576"')
    far = in_sheet(b"</sheetData>", b'<row r="20000"><c r="A20000"/></row></sheetData>')
    for content in (claimed, far):
        assert values(read_table(content)) == values(read_table(SOUND))
    wide = in_sheet(b"</row>", b'<c r="XFD1" t="str"><v>x</v></c></row>')
    assert values(read_table(wide)) == values(read_table(SOUND))


def test_a_sheet_too_large_unpacked_is_refused() -> None:
    with pytest.raises(TableError, match=r"sheet1.xml' has 0 MB unpacked; the most is 0 MB"):
        read_table(SOUND, reading=Reading(largest_sheet=1_000))


# --- metres, two rounds of a day, traps


def test_lengths_in_metres() -> None:
    metric = row(length=365.76, length_unit="m", distance=365.76, unit="m", holed="yes")
    del metric["length_yd"]
    (read,) = read_table(table([metric])).rows
    assert (read["length_yd"], read["distance_yd"]) == pytest.approx((400, 400))
    cases = {
        "row 2, length_unit: '' is not one of yd, ft, m": metric | {"length_unit": ""},
        "row 2, length_unit: 'km' is not one of yd, ft, m": metric | {"length_unit": "km"},
        "row 2, length: 641 m is outside 0 to 640.08 m": metric | {"length": 641},
    }
    for words, cells in cases.items():
        with pytest.raises(TableError) as refused:
            read_table(table([cells]))
        assert [str(fault) for fault in refused.value.faults] == [words]
    with pytest.raises(TableError, match="columns length and length_yd both"):
        read_table(table([metric | {"length_yd": 400}]))


def test_units_assumed_in_a_metric_table_are_named() -> None:
    rows = [row(unit="m", distance=365), row(shot=2, lie="fairway", distance=9), row(shot=3, lie="green", distance=9)]
    assert [str(one).partition(":")[0] for one in read_table(table(rows)).remarks.groups()] == [
        "yards assumed in 1 cell, first row 3, unit",
        "feet assumed on the green in 1 cell, first row 4, unit",
    ]
    assert read_table(table(drive_and_putt())).remarks.words == []


def test_two_rounds_of_a_day_are_told_apart_and_found_again(engine: sa.Engine) -> None:
    first, second = (drive_and_putt(round=name, course="Heath") for name in ("1", "Second"))
    done = import_table(engine, read_table(table([*first, *second])))
    assert done.rounds == 2
    for again in (
        [*second, *first],
        second,
        first,
        drive_and_putt(course="Heath"),
        drive_and_putt(round="SECOND", course="Heath"),
    ):
        assert import_table(engine, read_table(table(again))).changes == 0
    with pytest.raises(TableError):
        import_table(engine, read_table(table(drive_and_putt() + drive_and_putt())))


def test_days_in_the_future_are_named(engine: sa.Engine) -> None:
    later = (date.today() + timedelta(days=400)).isoformat()  # noqa: DTZ011
    done = import_table(engine, read_table(table(drive_and_putt(played_on=later))), dry_run=True)
    assert done.notes == [f"days in the future in 2 cells, first row 2, played_on ({later}): are the days right?"]
    assert import_table(engine, read_table(table(drive_and_putt())), dry_run=True).notes == []


def test_equal_notes_are_counted(engine: sa.Engine) -> None:
    rows = [one for hole in range(1, 10) for one in drive_and_putt(hole=hole, length_yd=90)]
    (note,) = import_table(engine, read_table(table(rows)), dry_run=True).notes
    assert note == "row 2, length_yd: a par 4 of 90 yd is unusual; 8 more like it, the last in row 18"


def test_faults_are_grouped_by_what_is_wrong() -> None:
    few = [RowFault(number, "lie", f"'{number}' is not one of tee", str(number)) for number in (2, 3, 4)]
    many = [RowFault(number, "par", f"{number} is outside 3 to 6", str(number)) for number in range(7, 30)]
    assert [str(one) for one in grouped([*many, *few])] == [
        *map(str, few),
        "row 7, par: 7 is outside 3 to 6; 22 more like it, the last in row 29",
    ]


@pytest.mark.parametrize("cell", ["12,5", " 12,5 ", "12,", ",5", "-1,5", "1.234,5", "1,234.5", "8,5 R"])
@pytest.mark.parametrize("piece", [1, 2, 3, 7, 1 << 20])
def test_a_number_with_a_comma_in_quotes_is_met_wherever_a_piece_ends(
    cell: str, piece: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sheet_texts, "_PIECE", piece)
    rows = 'player,distance,note\nWren,{},"a, b"\nWren,9,"c"\nWren,9,d\n'

    def text(said: str) -> sheet_texts.Text:
        return sheet_texts.Text(lambda: io.BytesIO(rows.format(said).encode()), len, ",")

    assert text(f'"{cell}"').may_hold_commas
    plain = text("12.5")
    assert [cells[2] for cells in plain.rows()] == ["a, b", "c", "d"]
    assert plain.may_hold_commas == (piece < 1 << 20)
