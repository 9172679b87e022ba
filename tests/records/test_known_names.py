"""What a message offers in place of a name that is not known."""

from __future__ import annotations

from server.records.known_names import MOST_LISTED, known_names

MANY = [f"{first} {number}" for first in ("Wren", "Ash") for number in range(1_000)]


def test_few_are_all_listed_in_order_and_once() -> None:
    assert known_names([]) == ""
    assert known_names(["Wren", "Ash", "Wren"], "Nobody") == "Ash, Wren"
    assert known_names(MANY[:MOST_LISTED]).count(",") == MOST_LISTED - 1


def test_of_very_many_those_like_the_one_asked_for_come() -> None:
    assert known_names(MANY, "WREN 7") == "Wren 7, Wren 70, Wren 700, Wren 701, Wren 702, Wren 703, and 1,994 more"
    assert known_names([*MANY, "Bramble Inkwell"], "Brambel Inkwel") == "Bramble Inkwell, and 2,000 more"


def test_without_a_like_one_the_first_come() -> None:
    words = "Ash 0, Ash 1, Ash 10, Ash 100, Ash 101, Ash 102, and 1,994 more"
    assert known_names(MANY) == known_names(MANY, "Quillfeather Bramble") == words
