"""Reading and checking baseline files: every fault names its row."""

from __future__ import annotations

import hashlib

import pytest

from server.analysis.expected_strokes.baseline import load_baseline
from server.analysis.expected_strokes.files import (
    FOLDER,
    check_table,
    find_baseline,
    read_about,
    read_baseline,
    shipped_ids,
)

HEADER = "lie,distance,unit,expected_strokes"


def faults_of(*rows, header=HEADER):
    """The faults of a table of these rows."""
    return check_table("\n".join([header, *rows, ""]).encode())[1]


def write(folder, name, text):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


# a second row after a sound first one -> how its fault begins, and a word that it must hold
FAULTS = [
    ("water,20,yd,2.5", "row 3, lie: ", "'water'"),
    ("Fairway,20,yd,2.5", "row 3, lie: ", "'Fairway'"),
    (",20,yd,2.5", "row 3, lie: ", "''"),
    ("fringe,20,yd,2.5", "row 3, lie: ", "valued as fairway"),
    ("fairway,5,yd,2.0", "row 3, distance: 5 yd ", "sort fairway"),
    ("fairway,10,yd,2.3", "row 3, distance: 10 yd ", "is there twice"),
    ("fairway,30,ft,2.3", "row 3, distance: 30 ft ", "is there twice"),
    ("fairway,10.01,yd,2.3", "row 3, distance: 10.01 yd ", "half an inch"),
    ("fairway,-20,yd,2.4", "row 3, distance: -20 yd ", "above 0"),
    ("fairway,0,yd,2.4", "row 3, distance: 0 yd ", "above 0"),
    ("fairway,1000.5,yd,2.4", "row 3, distance: 1000.5 yd ", "1000 yd"),
    ("fairway,1e9,yd,2.4", "row 3, distance: 1e9 yd ", "1000 yd"),
    ("fairway,twenty,yd,2.4", "row 3, distance: twenty yd ", "not a number"),
    ("fairway,nan,yd,2.4", "row 3, distance: nan yd ", "not a number"),
    ("fairway,inf,yd,2.4", "row 3, distance: inf yd ", "not a number"),
    ("fairway,,yd,2.4", "row 3, distance: ", "not a number"),
    ("fairway,20,miles,2.4", "row 3, unit: 'miles'", "yd, ft, m"),
    ("fairway,20,yd,0.99", "row 3, expected_strokes: 0.99 ", "from 1 to 20"),
    ("fairway,20,yd,-2", "row 3, expected_strokes: -2 ", "from 1 to 20"),
    ("fairway,20,yd,20.5", "row 3, expected_strokes: 20.5 ", "from 1 to 20"),
    ("fairway,20,yd,two", "row 3, expected_strokes: two ", "not a number"),
    ("fairway,20,yd,nan", "row 3, expected_strokes: nan ", "not a number"),
    ("fairway,20,yd,", "row 3, expected_strokes: ", "not a number"),
    ("fairway,20,yd", "row 3, expected_strokes: ", "not a number"),
    ("green,0.01,ft,1", "row 3, distance: 0.01 ft ", "half an inch"),
]


@pytest.mark.parametrize(("row", "beginning", "word"), FAULTS)
def test_fault_names_its_row_and_column(row, beginning, word):
    (fault,) = faults_of("fairway,10,yd,2.2", row)
    assert fault.startswith(beginning)
    assert word in fault


def test_every_bad_row_is_named_and_sound_rows_are_kept():
    rows, faults = check_table(
        f"{HEADER}\nwater,1,yd,2\nfairway,10,yd,2\nrough,x,yd,2\nfairway,20,yd,2.5\nfairway,15,yd,3\n".encode()
    )
    assert [fault.split(",")[0] for fault in faults] == ["row 2", "row 4", "row 6"]
    assert {lie: column[0].tolist() for lie, column in rows.items()} == {"fairway": [10.0, 20.0]}


def test_lies_may_be_mixed_when_each_is_sorted():
    rows, faults = check_table(f"{HEADER}\nrough,10,yd,2.4\nfairway,10,yd,2.2\nrough,20,yd,2.6\n".encode())
    assert faults == []
    assert list(rows) == ["fairway", "rough"]
    assert rows["rough"][1].tolist() == [2.4, 2.6]


@pytest.mark.parametrize("missing", ["lie", "distance", "expected_strokes"])
def test_missing_column(missing):
    header = ",".join(name for name in HEADER.split(",") if name != missing)
    (fault,) = faults_of("a,b,c", header=header)
    assert fault.startswith(f"row 1: missing column {missing} ")
    assert header.replace(",", ", ") in fault


def test_empty_file():
    assert check_table(b"")[1] == ["row 1: missing column lie, distance, expected_strokes (the file is empty)"]


def test_header_without_rows():
    assert check_table(f"{HEADER}\n".encode())[1] == ["the table has no rows"]


def test_not_utf_8():
    (fault,) = check_table(HEADER.encode() + b"\nfairway,10,yd,2.2,\xe9t\xe9\n")[1]
    assert fault == "the file is not UTF-8: byte 53 cannot be read"


def test_byte_order_mark_spaces_and_carriage_returns_are_no_faults():
    text = "\ufefflie , distance, unit ,expected_strokes,note\r\n fairway , 10 , yd , 2.2 ,x\r\ngreen,10,,1.6,\r\n"
    rows, faults = check_table(text.encode())
    assert faults == []
    assert rows["fairway"][0].tolist() == [10.0]
    assert rows["green"][0].tolist() == [10 / 3]


def test_unit_is_optional_and_usual_for_the_lie():
    rows, faults = check_table(b"expected_strokes,lie,distance\n2.2,fairway,10\n1.6,green,10\n")
    assert faults == []
    assert rows["fairway"][0].tolist() == [10.0]
    assert rows["green"][0].tolist() == [10 / 3]


def test_metres():
    rows, _ = check_table(f"{HEADER}\nsand,9.144,m,2.5\n".encode())
    assert rows["sand"][0].tolist() == [10.0]


def test_refusal_lists_every_fault(tmp_path):
    path = write(tmp_path, "bad.csv", f"{HEADER}\nwater,1,yd,2\nrough,x,yd,2\n")
    with pytest.raises(ValueError, match=r"bad\.csv cannot be used as a baseline:\nrow 2, lie: .*\nrow 3, distance: x"):
        load_baseline(path)


def test_table_without_toml_takes_its_name_and_digest(tmp_path):
    path = write(tmp_path, "mine.csv", f"{HEADER}\nfairway,10,yd,2.2\n")
    own = load_baseline(path)
    assert own.id == own.about.title == "mine"
    assert own.version == hashlib.sha256(path.read_bytes()).hexdigest()[:12]
    assert own.about.source == "not stated"
    write(tmp_path, "mine.csv", f"{HEADER}\nfairway,10,yd,2.21\n")
    assert load_baseline(path).version != own.version


def test_table_with_toml(tmp_path):
    write(tmp_path, "mine.csv", f"{HEADER}\nfairway,10,yd,2.2\n")
    about = write(tmp_path, "mine.toml", 'id = "club"\ntitle = "Club players"\nsource = "our cards"\nversion = "7"\n')
    for path in (about, about.with_suffix(".csv")):
        own = load_baseline(path)
        assert (own.id, own.about.title, own.about.source, own.version) == ("club", "Club players", "our cards", "7")


@pytest.mark.parametrize("content", [b"id = ", b"id = 1\nid = 2\n", b'title = "\xe9"\n'])
def test_broken_toml_is_named(tmp_path, content):
    (tmp_path / "mine.toml").write_bytes(content)
    write(tmp_path, "mine.csv", f"{HEADER}\nfairway,10,yd,2.2\n")
    with pytest.raises(ValueError, match=r"^mine\.toml: "):
        load_baseline(tmp_path / "mine.csv")


def test_no_toml_says_nothing(tmp_path):
    assert read_about(tmp_path / "none.toml") == {}


def test_parts_that_overlap(tmp_path):
    write(tmp_path, "both.csv", f"{HEADER}\ngreen,10,ft,1.6\n")
    path = write(tmp_path, "both.toml", 'parts = ["tour_2011_green"]\n')
    with pytest.raises(ValueError, match="parts: lie green comes from more than one table"):
        load_baseline(path)


def test_parts_and_a_table_of_ones_own(tmp_path):
    write(tmp_path, "mixed.csv", f"{HEADER}\nfairway,10,yd,2.5\n")
    mixed = load_baseline(write(tmp_path, "mixed.toml", 'id = "mixed"\nparts = ["tour_2011_green"]\n'))
    assert set(mixed.curves) == {"fairway", "green"}
    assert mixed.expected(["fairway", "green"], [10, 10]).tolist() == [2.5, 1.98]


def test_part_that_does_not_exist(tmp_path):
    path = write(tmp_path, "alone.toml", 'parts = ["nowhere"]\n')
    with pytest.raises(LookupError, match="'nowhere' is neither a file nor one of tour"):
        load_baseline(path)


def test_neither_table_nor_parts(tmp_path):
    path = write(tmp_path, "alone.toml", 'id = "alone"\n')
    with pytest.raises(ValueError, match=r"alone\.toml: no table and no parts"):
        load_baseline(path)


@pytest.mark.parametrize("name", ["nowhere", "", "../baselines/nowhere", "/nonexistent/file.csv"])
def test_unknown_baseline_names_the_known_ones(name):
    with pytest.raises(LookupError, match="is neither a file nor one of tour, tour_2011_green, tour_2012_off_green"):
        load_baseline(name)


def test_shipped_baselines():
    assert shipped_ids() == ["tour", "tour_2011_green", "tour_2012_off_green"]
    for name in shipped_ids():
        about = read_baseline(find_baseline(name))
        assert about.id == name
        assert {"id", "title", "source", "version"} <= set(about.about)
        assert about.source != "not stated"
    assert find_baseline("tour").parent == FOLDER


@pytest.mark.parametrize("name", ["tour_2011_green", "tour_2012_off_green"])
def test_shipped_valid_ranges_are_those_of_the_rows(name):
    about = read_baseline(find_baseline(name))
    stated = about.about["valid_range"]
    assert set(stated) == set(about.rows)
    for lie, words in stated.items():
        scale = {"yd": 1, "ft": 3}[words.split()[-1]]
        distance = about.rows[lie][0] * scale
        assert words == f"{distance[0]:g} to {distance[-1]:g} {words.split()[-1]}"
