"""The club of each hole while clubs are on trial: balanced, random, the same whatever the order of the clubs."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import pytest

from server.game.alternation import club_of_hole, mixed

VECTORS = Path(__file__).resolve().parents[1] / "vectors" / "alternation.json"


@pytest.mark.parametrize("clubs", [("a", "b"), ("a", "b", "c")])
def test_each_block_holds_every_club_twice(clubs: tuple[str, ...]) -> None:
    size = 2 * len(clubs)
    for round_id in map(str, range(50)):
        holes = [club_of_hole(clubs, round_id, hole) for hole in range(1, 2 * size + 1)]
        for block in (holes[:size], holes[size:]):
            assert Counter(block) == dict.fromkeys(clubs, 2)


def test_every_order_comes_about_as_often() -> None:
    """Six orders of two clubs in a block of four: chi-square over 6,000 rounds below its 99.9 % point, 20.5."""
    orders = Counter(
        "".join(club_of_hole(("a", "b"), f"round {number}", hole) for hole in (1, 2, 3, 4)) for number in range(6000)
    )
    assert len(orders) == 6
    assert sum((seen - 1000) ** 2 / 1000 for seen in orders.values()) < 20.5


def test_the_order_of_the_clubs_does_not_matter_and_rounds_differ() -> None:
    holes = range(1, 19)
    one = [club_of_hole(("a", "b"), "round 1", hole) for hole in holes]
    assert one == [club_of_hole(("b", "a", "b"), "round 1", hole) for hole in holes]
    assert one != [club_of_hole(("a", "b"), "round 2", hole) for hole in holes]


def test_fnv_1a_before_the_finalizer_is_the_published_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """FNV-1a of "foobar" is bf9cf968 (the authors' test vectors); the finalizer is a bijection, undone here."""
    value = mixed("foobar")
    inverse = {0x85EBCA6B: pow(0x85EBCA6B, -1, 2**32), 0xC2B2AE35: pow(0xC2B2AE35, -1, 2**32)}
    value ^= value >> 16
    value = value * inverse[0xC2B2AE35] % 2**32
    value ^= value >> 13 ^ value >> 26
    value = value * inverse[0x85EBCA6B] % 2**32
    value ^= value >> 16
    assert value == 0xBF9CF968


@pytest.mark.parametrize(("clubs", "hole", "words"), [(("a",), 1, "club_ids: 1 clubs"), (("a", "b"), 0, "hole: 0")])
def test_what_cannot_alternate_is_refused(clubs: tuple[str, ...], hole: int, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        club_of_hole(clubs, "round", hole)


def test_the_shared_vectors_are_what_python_says() -> None:
    for case in json.loads(VECTORS.read_text())["cases"]:
        holes = [club_of_hole(case["clubs"], case["round_id"], hole) for hole in range(1, 19)]
        assert holes == case["holes"]
