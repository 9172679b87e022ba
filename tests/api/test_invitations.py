"""Invitations: a link that lets one reader in, once, within a week; what the player takes back lets nobody in."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from threading import Barrier
from typing import Any

import pytest
from freezegun import freeze_time

from server.api.attempts import limiter
from server.store import sharing
from server.store.accounts import set_password
from server.store.credentials import INVITATION, JOIN, give, use_once
from server.store.unavailable import BusyError
from tests.api.asking import problem
from tests.api.people import PASSWORD, SECRET, House, house

START = datetime(2026, 5, 1, 8, 0, tzinfo=UTC)
WRONG = "wrong, was used or withdrawn, or is older than a week"


@pytest.fixture
def full(tmp_path: Any) -> Iterator[House]:
    made = house(f"sqlite:///{tmp_path / 'log.sqlite'}")
    limiter.reset()
    yield made
    made.engine.dispose()


def address(full: House) -> str:
    return f"/api/players/{full.robin.player_id}"


def invites(full: House) -> dict[str, str]:
    answer = full.client("Robin").post(f"{address(full)}/invitations")
    assert (answer.status_code, answer.headers["Cache-Control"]) == (201, "no-store")
    return dict(answer.get_json())


def open_ones(full: House) -> list[str]:
    found = full.client("Robin").get(f"{address(full)}/invitations").get_json()["invitations"]
    return [one["invitation_id"] for one in found]


def reads(full: House, name: str) -> bool:
    return full.client(name).get(f"{address(full)}/rounds").status_code == 200


def test_an_invitation_lets_one_coach_read(full: House) -> None:
    made = invites(full)
    assert made["address"] == f"http://localhost/#/invitation/{made['code']}"
    assert made["qr_svg"].startswith("<svg")
    assert open_ones(full) == [made["invitation_id"]]
    assert not reads(full, "Hazel")
    taken = full.client("Hazel").post("/api/me/invitations", json={"code": made["code"]})
    assert (taken.status_code, taken.get_json()) == (201, {"player_id": full.robin.player_id})
    assert reads(full, "Hazel")
    assert open_ones(full) == []
    shares = full.client("Robin").get(f"{address(full)}/shares").get_json()["shares"]
    assert [one["reader"] for one in shares if one["squad"] is None] == ["Ash", "Hazel"]
    again = full.client("Ash").post("/api/me/invitations", json={"code": made["code"]})
    assert WRONG in problem(again, 404)["detail"]


@pytest.mark.parametrize("name", ["Sam", "Olive", "Robin"])
def test_who_reads_nobody_spends_no_invitation(full: House, name: str) -> None:
    code = invites(full)["code"]
    refused = full.client(name).post("/api/me/invitations", json={"code": code})
    assert "for a coach or an analyst" in problem(refused, 403)["detail"]
    assert full.client("Hazel").post("/api/me/invitations", json={"code": code}).status_code == 201


def test_what_is_taken_back_lets_nobody_in(full: House) -> None:
    made = invites(full)
    path = f"{address(full)}/invitations/{made['invitation_id']}"
    problem(full.client("Sam").delete(path), 404)
    elsewhere = f"/api/players/{full.sam.player_id}/invitations/{made['invitation_id']}"
    problem(full.client("Sam").delete(elsewhere), 404)
    assert full.client("Robin").delete(path).status_code == 204
    problem(full.client("Robin").delete(path), 404)
    problem(full.client("Hazel").post("/api/me/invitations", json={"code": made["code"]}), 404)
    assert not reads(full, "Hazel")


@pytest.mark.parametrize(("seconds", "good"), [(-1, True), (0, False)])
def test_an_invitation_is_good_for_a_week(full: House, seconds: int, good: bool) -> None:
    with freeze_time(START) as clock:
        code = invites(full)["code"]
        clock.tick(timedelta(days=7, seconds=seconds))
        assert (use_once(full.engine, SECRET, code, INVITATION) is not None) == good


def test_an_invitation_is_no_code_for_a_phone_nor_the_other_way_round(full: House) -> None:
    robin = full.accounts["Robin"].account_id
    invitation, code = invites(full)["code"], give(full.engine, SECRET, robin, JOIN)[1]
    problem(full.client(None).post("/api/join", json={"code": invitation}), 401)
    problem(full.client("Hazel").post("/api/me/invitations", json={"code": code}), 404)
    assert not reads(full, "Hazel")


def test_a_new_password_takes_invitations_back(full: House) -> None:
    code = invites(full)["code"]
    set_password(full.engine, "Robin", PASSWORD + " anew")
    problem(full.client("Hazel").post("/api/me/invitations", json={"code": code}), 404)


def test_of_readers_who_come_at_once_one_is_let_in(full: House) -> None:
    code, gate = invites(full)["code"], Barrier(4)

    def takes(_turn: int) -> bool:
        gate.wait(timeout=60)
        return use_once(full.engine, SECRET, code, INVITATION) is not None

    with ThreadPoolExecutor(4) as readers:
        assert sorted(readers.map(takes, range(4))) == [False] * 3 + [True]


def test_a_database_that_is_busy_spends_no_invitation(full: House, monkeypatch: pytest.MonkeyPatch) -> None:
    code, hazel = invites(full)["code"], full.client("Hazel")

    def busy(*_: Any) -> None:
        raise BusyError("the database is busy")

    with monkeypatch.context() as patched:
        patched.setattr(sharing, "_shared", busy)
        refused = hazel.post("/api/me/invitations", json={"code": code})
    assert "Nothing of this request was stored" in problem(refused, 503)["detail"]
    assert hazel.post("/api/me/invitations", json={"code": code}).status_code == 201
    assert reads(full, "Hazel")


def test_guesses_at_invitations_are_limited(full: House) -> None:
    with freeze_time(datetime(2090, 5, 1, tzinfo=UTC)):
        hazel = full.client("Hazel")
        answers = [hazel.post("/api/me/invitations", json={"code": f"guess {n}"}).status_code for n in range(100)]
    assert answers == [404] * 60 + [429] * 40
