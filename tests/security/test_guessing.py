"""Guessing: many attempts get a few dozen answers, and an unknown name costs as much as a wrong password."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from freezegun import freeze_time
from werkzeug.security import generate_password_hash

from server.api.attempts import limiter
from server.store.accounts import add_account, disable
from tests.api.asking import problem
from tests.api.people import PASSWORD, House, house
from tests.quick_passwords import REAL, real_cost
from tests.tiers import count

MANY = count(300, 1000)

LATER = datetime(2090, 5, 1, 8, 0, tzinfo=UTC)
"""In the future of real time, in which the thread lives that forgets old counts."""


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    with pytest.MonkeyPatch.context() as patched:
        real_cost(patched)
        made = house(f"sqlite:///{tmp_path_factory.mktemp('guessing') / 'log.sqlite'}")
    yield made
    made.engine.dispose()


@pytest.fixture(autouse=True)
def _fresh_limits() -> None:
    limiter.reset()


@pytest.fixture
def looked_at(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The passwords that reach the check."""
    found: list[str] = []

    def checked(_engine: Any, _name: str, password: str) -> None:
        found.append(password)

    monkeypatch.setattr("server.api.signing_in.checked", checked)
    return found


def attempts(full: House, times: int, name: str, address: str = "{}", every_s: float = 0) -> list[int]:
    """Attempts to sign in, `every_s` seconds apart; `{}` in name and address is the number of the attempt."""
    client, found = full.app.test_client(), []
    with freeze_time(LATER) as clock:
        for turn in range(times):
            place = {"REMOTE_ADDR": address.format(turn)}
            sent = {"name": name.format(turn), "password": f"guess {turn}"}
            found.append(client.post("/api/sign-in", json=sent, environ_base=place).status_code)
            clock.tick(timedelta(seconds=every_s))
    return found


def test_many_guesses_at_one_name(full: House, looked_at: list[str]) -> None:
    answers = attempts(full, MANY, "Robin", "127.0.0.1", every_s=3600 / MANY)
    assert set(answers) == {401, 429}
    # One hour of them: 50 an hour for one name from one address.
    assert len(looked_at) == answers.count(401) == 50


def test_many_guesses_in_one_second(full: House, looked_at: list[str]) -> None:
    assert attempts(full, MANY, "Robin", "127.0.0.1") == [401] * 10 + [429] * (MANY - 10)
    assert len(looked_at) == 10


def test_many_names_from_one_address(full: House, looked_at: list[str]) -> None:
    assert attempts(full, MANY, "name {}", "127.0.0.1") == [401] * 60 + [429] * (MANY - 60)
    assert len(looked_at) == 60


def test_many_addresses_at_one_name(full: House, looked_at: list[str]) -> None:
    answers = attempts(full, MANY, "Robin", "2001:db8:{:x}::1")
    assert answers == [401] * 200 + [429] * (MANY - 200)
    assert len(looked_at) == 200


def test_the_addresses_of_one_network_are_one(full: House, looked_at: list[str]) -> None:
    assert attempts(full, 100, "name {}", "2001:db8:1:1::{:x}") == [401] * 60 + [429] * 40
    assert len(looked_at) == 60


@pytest.mark.parametrize("spelling", [" Robin", "Robin ", "\tRobin", "Robin\u3000\u2003"])
def test_another_spelling_of_a_name_is_the_same_name(full: House, looked_at: list[str], spelling: str) -> None:
    assert attempts(full, 10, "Robin", "127.0.0.1") == [401] * 10
    client = full.app.test_client()
    with freeze_time(LATER):
        assert client.post("/api/sign-in", json={"name": spelling, "password": "x"}).status_code == 429
    assert len(looked_at) == 10


def test_who_must_wait_learns_how_long(full: House) -> None:
    client = full.app.test_client()
    with freeze_time(LATER) as clock:
        for _ in range(10):
            client.post("/api/sign-in", json={"name": "Sam", "password": "x"})
        answer = client.post("/api/sign-in", json={"name": "Sam", "password": PASSWORD})
        problem(answer, 429)
        wait = int(answer.headers["Retry-After"])
        assert 1 <= wait <= 61  # the rest of a minute, rounded up
        # Others are not kept out.
        right = {"name": "Robin", "password": PASSWORD}
        assert client.post("/api/sign-in", json=right).status_code == 200
        clock.tick(timedelta(seconds=wait + 1))
        assert client.post("/api/sign-in", json={"name": "Sam", "password": "x"}).status_code == 401


def test_many_codes_from_one_address(full: House) -> None:
    client = full.app.test_client()
    with freeze_time(LATER):
        answers = [client.post("/api/join", json={"code": f"guess {turn}"}).status_code for turn in range(MANY)]
    assert answers == [401] * 60 + [429] * (MANY - 60)


@pytest.mark.parametrize("name", ["Robin", "Nobody", "Sam", "Ended"])
def test_every_failure_costs_one_password_check_of_the_same_size(
    full: House, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """A wrong password, an unknown name, an account without a password, one that has ended: nothing but the check
    takes time worth measuring, so the check is counted and not the time."""
    real_cost(monkeypatch)
    if name == "Ended":
        add_account(full.engine, "Ended", "coach", PASSWORD)
        disable(full.engine, "Ended")
    costs: list[tuple[Any, ...]] = []
    real = hashlib.scrypt

    def counting(password: bytes, **given: Any) -> bytes:
        costs.append((given["n"], given["r"], given["p"], len(real(password, **given))))
        return real(password, **given)

    monkeypatch.setattr(hashlib, "scrypt", counting)
    answer = full.app.test_client().post("/api/sign-in", json={"name": name, "password": "a wrong password"})
    problem(answer, 401)
    assert costs == [(2**15, 8, 1, 64)]


def test_the_hash_that_nobody_has_is_of_the_usual_form() -> None:
    method, salt, value = generate_password_hash("x", method=REAL["SCRYPT"]).split("$")
    ours = REAL["NOBODY"].split("$")
    assert (ours[0], len(ours[2])) == (method, len(value))
    assert salt != ours[1]
