"""Signing in and out: cookies, sessions that go on and end, joining a phone, changing a password."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from http.cookies import Morsel, SimpleCookie
from pathlib import Path
from threading import Barrier

import pytest
from flask.testing import FlaskClient
from freezegun import freeze_time
from werkzeug.test import TestResponse

from server.api.attempts import limiter
from server.api.authorization import COOKIE, SECURE_COOKIE
from server.store.accounts import AccountError, add_account, checked, disable, set_password
from server.store.credentials import JOIN, LASTS, LONGEST_SESSION, SESSION, give, look_up, use_once
from tests.api.asking import problem
from tests.api.people import PASSWORD, SECRET, House, house

START = datetime(2026, 5, 1, 8, 0, tzinfo=UTC)
OWN = {"name": "Robin", "password": PASSWORD}
TLS = "https://localhost"


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    made = house(f"sqlite:///{tmp_path_factory.mktemp('signing') / 'log.sqlite'}")
    yield made
    made.engine.dispose()


@pytest.fixture(autouse=True)
def _fresh_limits() -> None:
    limiter.reset()


def cookie_in(answer: TestResponse) -> Morsel[str]:
    """The one cookie that an answer sets."""
    (line,) = answer.headers.getlist("Set-Cookie")
    (found,) = SimpleCookie(line).values()
    return found


def signs_in(client: FlaskClient, **more: str) -> str:
    """Sign Robin in; returns the session's secret."""
    answer = client.post("/api/sign-in", json=OWN, **more)
    assert answer.status_code == 200, answer.text
    return cookie_in(answer).value


def is_in(client: FlaskClient, **more: str) -> bool:
    """Whether a browser is signed in; a route that needs it says the same."""
    account = client.get("/api/me", **more).get_json()["account"]
    assert (client.get("/api/me/sessions", **more).status_code == 200) == (account is not None)
    return account is not None


def test_signing_in_tells_who_one_is_and_sets_a_cookie_that_scripts_cannot_read(full: House) -> None:
    client = full.client(None)
    assert client.get("/api/me").get_json() == {"open_house": False, "account": None, "storage": []}
    answer = client.post("/api/sign-in", json=OWN)
    account = {"name": "Robin", "role": "player", "player_id": full.robin.player_id, "squads": []}
    assert answer.get_json() == {"open_house": False, "account": account}
    assert answer.headers["Cache-Control"] == "no-store"
    found = cookie_in(answer)
    assert (found.key, found["path"], found["domain"]) == (COOKIE, "/", "")
    assert (found["httponly"], found["samesite"], found["secure"]) == (True, "Strict", "")
    assert len(found.value) == 43
    assert is_in(client)


def test_over_tls_the_cookie_is_secure_and_bound_to_its_host(full: House) -> None:
    client = full.client(None)
    answer = client.post("/api/sign-in", json=OWN, base_url=TLS)
    found = cookie_in(answer)
    assert (found.key, found["secure"], found["httponly"], found["samesite"]) == (SECURE_COOKIE, True, True, "Strict")
    assert (found["path"], found["domain"]) == ("/", "")
    assert is_in(client, base_url=TLS)
    # A cookie of the plain name, which another host of the domain could have set, is not looked at over TLS.
    other = full.app.test_client()
    other.set_cookie(COOKIE, found.value)
    assert not is_in(other, base_url=TLS)


@pytest.mark.parametrize(
    "sent",
    [
        {"name": "Robin", "password": "a wrong password"},
        {"name": "Nobody", "password": PASSWORD},
        {"name": "Sam", "password": PASSWORD},
        {"name": "robin", "password": PASSWORD},
    ],
    ids=["wrong", "unknown", "without a password", "another spelling"],
)
def test_whatever_is_wrong_the_answer_is_the_same(full: House, sent: dict[str, str]) -> None:
    answer = full.client(None).post("/api/sign-in", json=sent)
    assert problem(answer, 401)["detail"] == "The name or the password is wrong."
    assert answer.headers["WWW-Authenticate"] == 'Bearer realm="pencilbag"'
    assert "Set-Cookie" not in answer.headers


def test_a_name_is_found_however_it_is_spaced_or_composed(full: House) -> None:
    add_account(full.engine, "  Zoe\u0301   Quill ", "coach", PASSWORD)
    found = checked(full.engine, "Zo\u00e9 Quill", PASSWORD)
    assert found is not None
    assert found.name == "Zo\u00e9 Quill"
    with pytest.raises(AccountError, match="already taken"):
        add_account(full.engine, "Zo\u00e9 Quill ", "coach", PASSWORD)


@pytest.mark.parametrize("name", ["", "   ", "x" * 61, "a\nb\x07", "a\u202eb"])
def test_a_name_that_cannot_be_read_is_no_name(full: House, name: str) -> None:
    with pytest.raises(AccountError, match="name"):
        add_account(full.engine, name, "coach", PASSWORD)


def test_the_session_that_a_browser_brings_is_never_taken_up(full: House) -> None:
    """Session fixation: who plants a cookie learns nothing of the session that is begun."""
    planted = full.session("Ash")[1]
    for brought in ("planted-by-somebody", planted):
        client = full.app.test_client()
        client.set_cookie(COOKIE, brought)
        secret = signs_in(client)
        assert secret != brought
        assert client.get("/api/me").get_json()["account"]["name"] == "Robin"
        mallory = full.app.test_client()
        mallory.set_cookie(COOKIE, brought)
        assert not is_in(mallory)


def test_signing_out_ends_the_session_for_every_copy_of_the_cookie(full: House) -> None:
    client, copy = full.client(None), full.app.test_client()
    copy.set_cookie(COOKIE, signs_in(client))
    assert is_in(copy)
    answer = client.post("/api/sign-out")
    assert (answer.status_code, cookie_in(answer)["max-age"]) == (204, "0")
    assert not is_in(client)
    assert not is_in(copy)


def test_a_session_in_use_goes_on_and_one_that_is_not_ends(full: House) -> None:
    with freeze_time(START) as clock:
        busy, idle = full.client("Robin"), full.client("Robin")
        for _ in range(4):
            clock.tick(LASTS[SESSION] - timedelta(hours=1))
            assert is_in(busy)
        assert not is_in(idle)
        clock.tick(LASTS[SESSION] + timedelta(seconds=1))
        assert not is_in(busy)


def test_no_session_outlives_a_year_and_the_cookie_lasts_as_long(full: House) -> None:
    with freeze_time(START) as clock:
        client = full.client(None)
        answer = client.post("/api/sign-in", json=OWN)
        assert cookie_in(answer)["max-age"] == str(int(LONGEST_SESSION.total_seconds()))
        secret, used = cookie_in(answer).value, timedelta(0)
        step = timedelta(days=20)
        while used + step < LONGEST_SESSION:
            clock.tick(step)
            used += step
            assert look_up(full.engine, SECRET, SESSION, secret) is not None
        clock.tick(LONGEST_SESSION - used)
        assert look_up(full.engine, SECRET, SESSION, secret) is None


def test_a_lost_phone_is_signed_out_from_another(full: House) -> None:
    here, lost = full.client("Robin"), full.client("Robin")
    mine = next(one for one in lost.get("/api/me/sessions").get_json()["sessions"] if one["current"])
    assert is_in(lost)
    assert full.client("Ash").delete(f"/api/me/sessions/{mine['credential_id']}").status_code == 404
    assert here.delete(f"/api/me/sessions/{mine['credential_id']}").status_code == 204
    assert not is_in(lost)
    assert is_in(here)
    problem(here.delete(f"/api/me/sessions/{mine['credential_id']}"), 404)


def test_an_ended_account_is_out_at_once(full: House) -> None:
    add_account(full.engine, "Briefly", "coach", PASSWORD)
    client = full.client(None)
    assert client.post("/api/sign-in", json={"name": "Briefly", "password": PASSWORD}).status_code == 200
    assert is_in(client)
    disable(full.engine, "Briefly")
    assert not is_in(client)
    problem(client.post("/api/sign-in", json={"name": "Briefly", "password": PASSWORD}), 401)


def test_a_new_password_ends_every_session_token_and_code(full: House) -> None:
    account = add_account(full.engine, "Mover", "coach", PASSWORD)
    full.accounts["Mover"] = account
    browser, script = full.client("Mover"), full.bearer("Mover", "read_squad")
    code = give(full.engine, SECRET, account.account_id, JOIN)[1]
    set_password(full.engine, "Mover", "another password")
    assert not is_in(browser)
    assert full.app.test_client().get("/api/players", headers=script).status_code == 401
    assert use_once(full.engine, SECRET, code) is None
    assert checked(full.engine, "Mover", PASSWORD) is None
    assert checked(full.engine, "Mover", "another password") == account


def test_one_changes_ones_own_password_and_stays_signed_in_here_alone(full: House) -> None:
    full.accounts["Changer"] = add_account(full.engine, "Changer", "coach", PASSWORD)
    here, there = full.client("Changer"), full.client("Changer")
    wrong = here.post("/api/me/password", json={"password": "not this one", "new_password": "another password"})
    assert problem(wrong, 403)["detail"] == "The current password is wrong."
    short = here.post("/api/me/password", json={"password": PASSWORD, "new_password": "short"})
    assert "10 to 200 characters" in problem(short, 422)["detail"]
    assert "short" not in short.text
    done = here.post("/api/me/password", json={"password": PASSWORD, "new_password": "another password"})
    assert done.status_code == 204
    assert (is_in(here), is_in(there)) == (True, False)
    assert checked(full.engine, "Changer", "another password") is not None


def test_a_phone_joins_once_by_a_code(full: House) -> None:
    made = full.client("Robin").post("/api/me/join-code")
    assert (made.status_code, made.headers["Cache-Control"]) == (201, "no-store")
    code = made.get_json()["code"]
    assert made.get_json()["address"] == f"http://localhost/#/join/{code}"
    assert made.get_json()["qr_svg"].startswith("<svg")
    phone, late = full.client(None), full.client(None)
    assert phone.post("/api/join", json={"code": code}).get_json()["account"]["name"] == "Robin"
    assert is_in(phone)
    problem(late.post("/api/join", json={"code": code}), 401)
    assert not is_in(late)


def test_a_code_is_no_session_and_a_session_no_code(full: House) -> None:
    account_id = full.accounts["Robin"].account_id
    code, session = give(full.engine, SECRET, account_id, JOIN)[1], full.session("Robin")[1]
    client = full.app.test_client()
    client.set_cookie(COOKIE, code)
    assert not is_in(client)
    assert client.get("/api/players", headers={"Authorization": f"Bearer {code}"}).status_code == 401
    assert client.get("/api/players", headers={"Authorization": f"Bearer {session}"}).status_code == 401
    assert use_once(full.engine, SECRET, session) is None
    assert use_once(full.engine, SECRET, code) == full.accounts["Robin"]


@pytest.mark.parametrize(("seconds", "good"), [(-1, True), (0, False)])
def test_a_code_is_good_for_a_quarter_of_an_hour(full: House, seconds: int, good: bool) -> None:
    with freeze_time(START) as clock:
        code = give(full.engine, SECRET, full.accounts["Robin"].account_id, JOIN)[1]
        clock.tick(timedelta(minutes=15, seconds=seconds))
        assert (use_once(full.engine, SECRET, code) is not None) == good


def test_of_phones_that_join_at_once_one_is_in(database_url: str) -> None:
    there = house(database_url)
    try:
        account_id = there.accounts["Robin"].account_id
        for _ in range(5):
            code, gate = give(there.engine, SECRET, account_id, JOIN)[1], Barrier(6)

            def joins(code: str = code, gate: Barrier = gate) -> bool:
                gate.wait(timeout=60)
                return use_once(there.engine, SECRET, code) is not None

            with ThreadPoolExecutor(6) as phones:
                done = [phones.submit(joins) for _ in range(6)]
                assert sorted(one.result() for one in done) == [False] * 5 + [True]
    finally:
        there.engine.dispose()


def test_the_database_alone_signs_nobody_in(full: House) -> None:
    secret = full.session("Robin")[1]
    assert look_up(full.engine, SECRET, SESSION, secret) is not None
    assert look_up(full.engine, "another secret of 32 characters.", SESSION, secret) is None
    path = Path(full.engine.url.database)
    stored = b"".join(file.read_bytes() for file in path.parent.glob("log.sqlite*"))
    assert full.accounts["Robin"].account_id.encode() in stored
    assert secret.encode() not in stored
    assert PASSWORD.encode() not in stored
