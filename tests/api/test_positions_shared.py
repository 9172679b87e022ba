"""Positions are personal: their player has them whole, readers and season tables only when the player says so."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from server.store.log import push
from tests.api.people import House, house
from tests.records.made import Season, body_of, change

SHOT_AT = [8.5301234, 47.3601234, 4.2]
FLAG_AT = [8.5345678, 47.3612345, 3.5]
BAD = [47.36, 138.53, 4.0]
NUMBERS = ("8.53", "47.36", "138.53")
"""How the positions of these records begin, as any answer would spell them."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    found = house(f"sqlite:///{tmp_path_factory.mktemp('positions') / 'log.sqlite'}")
    yield found
    found.engine.dispose()


@pytest.fixture(scope="module")
def shot_id(made: House) -> str:
    return with_positions(made)


def with_positions(made: House) -> str:
    """A round of Robin's with a position, a marked flag, and a shot that was set aside for its position."""
    more = Season("Robin")
    more.changes.clear()
    club = more.club("7 iron")
    holes = [{"number": 1, "par": 3, "length_yd": 160, "flag": FLAG_AT}]
    round_id = more.put("round", "with positions", body_of("round", holes=holes, bag=[club], closed=True))
    found = more.shot(round_id, 1, 1, "tee", 160, club, position=SHOT_AT, holed=True)
    assert push(made.engine, made.robin.player_id, "phone", more.changes, strict=True).quarantined == []
    spoilt = change("shot", body_of("shot", round_id=round_id, order=2, club_id=club, position=BAD))
    assert len(push(made.engine, made.robin.player_id, "phone", [spoilt]).quarantined) == 1
    return found


def asked(made: House, who: str, shot_id: str) -> dict[str, str]:
    """The text of every answer that hands out records, and of the season's shots."""
    client, of = made.client(who), f"/api/players/{made.robin.player_id}"
    paths = {
        "changes": f"{of}/changes",
        "quarantine": f"{of}/quarantine",
        "record": f"{of}/records/{shot_id}",
        "season": f"/api/season/2026/shots.csv?player={made.robin.player_id}",
    }
    answers = {name: client.get(path) for name, path in paths.items()}
    assert {name: answer.status_code for name, answer in answers.items()} == dict.fromkeys(paths, 200)
    return {name: answer.text for name, answer in answers.items()}


def places(text: str) -> list[tuple[str, ...]]:
    rows = csv.DictReader(io.StringIO(text))
    return [cells for row in rows if any(cells := tuple(row[name] for name in ("lon", "lat", "accuracy_m")))]


@pytest.mark.parametrize("who", ["Ash", "Sage"])
def test_readers_get_no_position(made: House, shot_id: str, who: str) -> None:
    for name, text in asked(made, who, shot_id).items():
        assert not [number for number in NUMBERS if number in text], name


def test_the_player_has_them_all_but_not_in_tables(made: House, shot_id: str) -> None:
    found = asked(made, "Robin", shot_id)
    everything = made.client("Robin").get(f"/api/players/{made.robin.player_id}/everything").text
    for text in (found["changes"], everything):
        assert "8.5301234" in text
        assert "8.5345678" in text
    assert "8.5301234" in found["record"]
    assert "138.53" in found["quarantine"]
    assert places(found["season"]) == []


def says(made: House, shares: Any) -> None:
    """Robin's settings, pushed as the phone does."""
    body = body_of("player", name="Robin", shares_positions=shares)
    head = made.client("Robin").get(f"/api/players/{made.robin.player_id}/records/{made.robin.player_id}").get_json()
    parents = [leaf["change_id"] for leaf in head["leaves"]]
    change_ = change("player", body, made.robin.player_id, parents=parents)
    push(made.engine, made.robin.player_id, "phone", [change_], strict=True)


def test_a_player_who_says_so_shares_them_until_it_is_taken_back(made: House, shot_id: str) -> None:
    says(made, True)
    found = asked(made, "Ash", shot_id)
    assert "8.5301234" in found["changes"]
    assert "8.5345678" in found["changes"]
    assert "8.5301234" in found["record"]
    assert places(found["season"]) == [("8.5301234", "47.3601234", "4.2")]
    says(made, False)
    test_readers_get_no_position(made, shot_id, "Ash")


def test_an_erasure_takes_them(tmp_path: Path) -> None:
    made = house(f"sqlite:///{tmp_path / 'log.sqlite'}")
    with_positions(made)
    client = made.client("Robin")
    answer = client.post(
        f"/api/players/{made.robin.player_id}/erasure", json={"name": "Robin", "meant": "erase everything"}
    )
    assert answer.status_code == 204
    kept = b"".join(file.read_bytes() for file in tmp_path.glob("log.sqlite*"))
    assert b"8.5301234" not in kept
    assert b"8.5345678" not in kept
    made.engine.dispose()
