"""Caddies: somebody enters one open round for its player, and writes and reads nothing else."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from threading import Barrier
from typing import Any

import pytest
import sqlalchemy as sa
from flask.testing import FlaskClient
from freezegun import freeze_time

from server import create_app
from server.api.attempts import limiter
from server.store import caddie_log
from server.store.account_tables import CADDIE
from server.store.accounts import set_password
from server.store.caddies import CLOSED, LASTS, NO_ROUND, TAKEN_BACK, TOO_OLD, take_up
from server.store.engine import reading
from server.store.erasure import erase_player
from server.store.log import push
from server.store.players import heads, round_by_id
from server.store.quarantine import quarantined
from tests.api.asking import problem
from tests.api.people import CADDIES_PHONE, PASSWORD, SECRET, House, house
from tests.records.made import body_of, change, default_clubs, named

START = datetime(2026, 6, 1, 8, 0, tzinfo=UTC)
WRONG = "wrong, was used or ended, or its round is finished"
ALLOWED = (
    "the shots of this round, and of the round wind_mph, temperature_c, firmness, green_speed_ft, hole_conditions and "
    "lengths_taken"
)


@pytest.fixture
def full(tmp_path: Any) -> Iterator[House]:
    made = house(f"sqlite:///{tmp_path / 'log.sqlite'}")
    limiter.reset()
    yield made
    made.engine.dispose()


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """A house for tests that end nothing."""
    made = house(f"sqlite:///{tmp_path_factory.mktemp('caddies') / 'log.sqlite'}")
    yield made
    made.engine.dispose()


def robins(full: House, path: str = "") -> str:
    return f"/api/players/{full.robin.player_id}{path}"


def invites(full: House, round_id: str | None = None) -> dict[str, str]:
    answer = full.client("Robin").post(robins(full, f"/rounds/{round_id or full.round_id()}/caddies"))
    assert (answer.status_code, answer.headers["Cache-Control"]) == (201, "no-store")
    return dict(answer.get_json())


def takes(full: House, code: str, name: str = "Casey") -> tuple[Any, FlaskClient]:
    phone = full.app.test_client()
    body = {"code": code, "name": name, "device_id": CADDIES_PHONE}
    return phone.post("/api/caddying", json=body), phone


def shot(full: House, order: int = 5, **said: Any) -> dict[str, Any]:
    """A new shot of Robin's open round, made on the caddie's phone."""
    body = body_of("shot", round_id=full.round_id(), order=order, lie="fairway", distance_yd=90) | said.pop("body", {})
    return change("shot", body, **{"device_id": CADDIES_PHONE} | said)


def pushes(full: House, caddie_id: str, *changes: Any) -> Any:
    body = {"device_id": CADDIES_PHONE, "changes": list(changes)}
    return full.client(caddie_id).post(f"/api/caddying/{caddie_id}/changes", json=body)


def refused(full: House, caddie_id: str, one: dict[str, Any]) -> str:
    """What the answer says of a change that is not taken; nothing of it is kept anywhere."""
    before = log(full)
    answer = pushes(full, caddie_id, one).get_json()
    assert answer["acknowledged"] == []
    (named_,) = answer["quarantined"]
    assert named_["change_id"] == one["change_id"]
    assert log(full) == before
    assert quarantined(full.engine, full.robin.player_id) == []
    return str(named_["problem"]["detail"])


def log(full: House) -> list[dict[str, Any]]:
    found = full.client("Robin").get(robins(full, "/changes?limit=5000")).get_json()["changes"]
    return list(found)


def pulled(full: House, caddie_id: str, after: str = "") -> dict[str, Any]:
    found = full.client(caddie_id).get(f"/api/caddying/{caddie_id}/changes", query_string={"after": after})
    assert found.status_code == 200
    return dict(found.get_json())


def round_put(full: House, device: str = "phone", **fields: Any) -> dict[str, Any]:
    """A change of the open round that follows what is there now."""
    with reading(full.engine) as connection:
        head = heads(connection, [full.round_id()])[full.round_id()]
    body = dict(head.body or {}) | fields
    return change("round", body, full.round_id(), parents=[head.change_id], device_id=device)


def robin_pushes(full: House, *changes: Any) -> None:
    assert push(full.engine, full.robin.player_id, "phone", list(changes)).quarantined == []


def test_a_caddie_enters_and_both_read_the_same_card(full: House) -> None:
    made = invites(full)
    assert made["address"] == f"http://localhost/#/caddie/{made['code']}"
    assert made["qr_svg"].startswith("<svg")
    answer, phone = takes(full, made["code"], "  Casey   Furrow ")
    assert answer.status_code == 201
    caddie_id = answer.get_json()["caddie_id"]
    cookie = answer.headers["Set-Cookie"]
    assert f"Path=/api/caddying/{caddie_id};" in cookie
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    one = shot(full)
    done = phone.post(f"/api/caddying/{caddie_id}/changes", json={"device_id": CADDIES_PHONE, "changes": [one]})
    assert done.get_json()["acknowledged"] == [one["change_id"]]
    (there,) = [raw for raw in log(full) if raw["change_id"] == one["change_id"]]
    assert there["device_id"] == CADDIES_PHONE
    (listed,) = full.client("Robin").get(robins(full, "/caddies")).get_json()["caddies"]
    assert (listed["name"], listed["state"], listed["device_id"]) == ("Casey Furrow", "entering", CADDIES_PHONE)
    page = phone.get(f"/api/caddying/{caddie_id}/changes").get_json()
    own = [raw for raw in log(full) if raw["record_id"] == full.round_id() or raw["kind"] == "shot"]
    assert page["changes"] == [
        raw for raw in own if (raw["body"].get("round_id") or full.round_id()) == full.round_id()
    ]
    assert (page["more"], page["reset"]) == (False, False)
    again = phone.get(f"/api/caddying/{caddie_id}/changes", query_string={"after": page["cursor"]}).get_json()
    assert (again["changes"], again["cursor"]) == ([], page["cursor"])


def test_what_entering_needs_and_nothing_else(full: House) -> None:
    clubs = default_clubs(full.robin)
    secret = {"note": "plays in pain", "position": [-1.5, 52.0, 4.0]}
    about = {"name": "Robin", "plays": "left", "doctor": "a secret"}
    other = _other_shot(full)
    robin_pushes(
        full,
        change("shot", other["body"] | secret, other["record_id"], parents=[other["change_id"]]),
        change("player", about, full.robin.player_id, parents=[full.robin.changes[0]["change_id"]]),
        round_put(full, bag=[clubs["driver"], clubs["putter"]]),
    )
    caddie_id = full.caddie()
    phone = full.client(caddie_id)
    needs = phone.get(f"/api/caddying/{caddie_id}").get_json()
    assert needs["player"] == {"player_id": full.robin.player_id, "name": "Robin", "plays": "left", "units": "yards"}
    assert [club["label"] for club in needs["clubs"]] == ["driver", "putter"]
    assert (needs["course"]["name"], [one["hole"] for one in needs["hole_maps"]]) == ("Course of Robin", [1])
    assert needs["maps_left_out"] == []
    page = pulled(full, caddie_id)
    assert needs["mark"] == page["mark"]
    assert {raw["kind"] for raw in page["changes"]} == {"round", "shot"}
    text = str(needs) + str(page)
    others = {raw["record_id"] for raw in log(full) if raw["kind"] in ("round", "shot")}
    shown = {raw["record_id"] for raw in page["changes"]}
    assert others - shown
    for hidden in (*(others - shown), "plays in pain", "a secret", "52.0", "8 iron"):
        assert hidden not in text


def test_the_mark_changes_with_what_is_needed(full: House) -> None:
    caddie_id = full.caddie()
    before = pulled(full, caddie_id)["mark"]
    robin_pushes(full, change("club", {"label": "9 iron", "sort": "iron"}))
    assert pulled(full, caddie_id)["mark"] == before
    club_id = default_clubs(full.robin)["driver"]
    robin_pushes(full, round_put(full, bag=[club_id]))
    after = pulled(full, caddie_id)["mark"]
    assert after != before
    last = next(raw for raw in reversed(log(full)) if raw["record_id"] == club_id)
    robin_pushes(full, change("club", {"label": "old driver", "sort": "driver"}, club_id, parents=[last["change_id"]]))
    assert pulled(full, caddie_id)["mark"] != after
    needs = full.client(caddie_id).get(f"/api/caddying/{caddie_id}").get_json()
    assert [club["label"] for club in needs["clubs"]] == ["old driver"]


FRAME = {"lon": -1.5, "lat": 52.0, "turned_deg": 40}


@pytest.mark.parametrize(
    ("frame", "told"),
    [
        (FRAME, FRAME),
        (FRAME | {"drawn": "by hand"}, FRAME),
        (None, None),
        ({"lon": -1.5, "lat": 52.0}, None),
        (FRAME | {"lat": 89.5}, None),
        (FRAME | {"lon": True}, None),
        (FRAME | {"lon": "-1.5"}, None),
        ([1, 2, 3], None),
    ],
)
def test_a_map_says_where_on_the_earth_it_lies(full: House, frame: Any, told: Any) -> None:
    last = next(raw for raw in reversed(log(full)) if raw["kind"] == "hole_map")
    body = last["body"] | ({} if frame is None else {"frame": frame})
    robin_pushes(full, change("hole_map", body, last["record_id"], parents=[last["change_id"]]))
    caddie_id = full.caddie()
    needs = full.client(caddie_id).get(f"/api/caddying/{caddie_id}").get_json()
    assert [one["frame"] for one in needs["hole_maps"]] == [told]
    assert [one["features"] for one in needs["hole_maps"]] == [body["features"]]


def test_a_page_looks_through_so_much_of_the_log_and_goes_on(full: House, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(caddie_log, "SCANNED", 3)
    caddie_id = full.caddie()
    robin_pushes(full, *(change("club", {"label": f"club {n}", "sort": "iron"}) for n in range(9)))
    robin_pushes(full, shot(full, device_id="phone"))
    found: list[Any] = []
    cursor, pages = "", 0
    while True:
        page = pulled(full, caddie_id, cursor)
        found += page["changes"]
        cursor, pages = page["cursor"], pages + 1
        if not page["more"]:
            break
    assert pages > 3
    monkeypatch.undo()
    assert found == pulled(full, caddie_id)["changes"]
    assert len([raw for raw in found if raw["kind"] == "shot"]) == 5


def _other_shot(full: House) -> dict[str, Any]:
    return next(
        raw for raw in full.robin.changes if raw["kind"] == "shot" and raw["body"]["round_id"] != full.round_id()
    )


def _own_shot(full: House) -> dict[str, Any]:
    return next(
        raw for raw in full.robin.changes if raw["kind"] == "shot" and raw["body"]["round_id"] == full.round_id()
    )


def _other_round(full: House) -> str:
    return str([raw["record_id"] for raw in full.robin.changes if raw["kind"] == "round"][1])


def _by(full: House, kind: str, body: Any, record_id: str | None = None, **said: Any) -> dict[str, Any]:
    return change(kind, body, record_id, **{"device_id": CADDIES_PHONE} | said)


FORGED = {
    "a shot of another round": lambda full: shot(full, body={"round_id": _other_round(full)}),
    "a shot of a round that is nowhere": lambda full: shot(full, body={"round_id": named("nowhere")}),
    "another round's shot drawn into this one": lambda full: shot(full, record_id=_other_shot(full)["record_id"]),
    "the same, named as its parent": lambda full: shot(
        full, record_id=_other_shot(full)["record_id"], parents=[_other_shot(full)["change_id"]]
    ),
    "a shot drawn out of this round": lambda full: shot(
        full, record_id=_own_shot(full)["record_id"], body={"round_id": _other_round(full)}
    ),
    "another round's shot deleted": lambda full: _by(full, "shot", None, _other_shot(full)["record_id"]),
    "a shot deleted that is nowhere": lambda full: _by(full, "shot", None),
    "a club's id for a shot": lambda full: shot(
        full, record_id=next(raw["record_id"] for raw in full.robin.changes if raw["kind"] == "club")
    ),
    "another player's shot": lambda full: shot(
        full, record_id=next(raw["record_id"] for raw in full.sam.changes if raw["kind"] == "shot")
    ),
    "a parent of another record": lambda full: shot(full, parents=[_other_shot(full)["change_id"]]),
    "another phone's name": lambda full: shot(full, device_id="phone"),
    "another round": lambda full: _by(full, "round", body_of("round"), _other_round(full)),
    "a new round": lambda full: _by(full, "round", body_of("round")),
    "this round deleted": lambda full: _by(full, "round", None, full.round_id()),
    "this round closed": lambda full: round_put(full, CADDIES_PHONE, closed=True),
    "a competition made practice": lambda full: round_put(full, CADDIES_PHONE, kind="casual"),
    "another bag": lambda full: round_put(full, CADDIES_PHONE, bag=[named("club")]),
    "a field of its own": lambda full: round_put(full, CADDIES_PHONE, advice="take more club"),
    "a condition on an old version": lambda full: round_put(full, CADDIES_PHONE, wind_mph=5) | {"parents": []},
    "the player": lambda full: _by(full, "player", {"name": "Casey", "plays": "right"}, full.robin.player_id),
    "a club": lambda full: _by(full, "club", {"label": "9 iron", "sort": "iron"}),
    "a course": lambda full: _by(full, "course", body_of("course")),
    "a map": lambda full: _by(full, "hole_map", body_of("hole_map")),
    "a setup": lambda full: _by(full, "setup", body_of("setup")),
}


@pytest.mark.parametrize("what", FORGED)
def test_whatever_is_not_of_the_round_is_refused_and_kept_nowhere(shared: House, what: str) -> None:
    said = refused(shared, shared.caddie(), FORGED[what](shared))
    exact = {
        "a parent of another record": "(changes of the same record)",
        "another phone's name": "is another (the phone that took up the invitation)",
        "a condition on an old version": "do not name the version that is there now",
    }
    assert exact.get(what, f"({ALLOWED})") in said


def test_what_is_bad_is_named_and_not_put_into_the_players_quarantine(shared: House) -> None:
    caddie_id = shared.caddie()
    assert "distance_yd" in refused(shared, caddie_id, shot(shared, body={"distance_yd": -4}))
    answer = pushes(shared, caddie_id, "no change", 7, None).get_json()
    assert (answer["acknowledged"], len(answer["quarantined"])) == ([], 3)
    assert quarantined(shared.engine, shared.robin.player_id) == []


def test_of_a_mixed_push_what_is_of_the_round_is_stored(full: House) -> None:
    caddie_id, good = full.caddie(), shot(full)
    bad = FORGED["a shot of another round"](full)
    edited = change("shot", good["body"] | {"note": "thin"}, good["record_id"], device_id=CADDIES_PHONE)
    edited["parents"] = [good["change_id"]]
    gone = _by(full, "shot", None, good["record_id"], parents=[edited["change_id"]])
    answer = pushes(full, caddie_id, good, bad, edited, gone).get_json()
    assert answer["acknowledged"] == [good["change_id"], edited["change_id"], gone["change_id"]]
    assert [one["change_id"] for one in answer["quarantined"]] == [bad["change_id"]]
    before = log(full)
    assert pushes(full, caddie_id, good, edited, gone).get_json()["acknowledged"] == answer["acknowledged"]
    assert log(full) == before
    back = change("shot", good["body"], good["record_id"], device_id=CADDIES_PHONE, parents=[gone["change_id"]])
    assert pushes(full, caddie_id, back).get_json()["acknowledged"] == [back["change_id"]]


def test_the_conditions_of_the_round_are_a_caddies_too(full: House) -> None:
    caddie_id = full.caddie()
    wind = round_put(full, CADDIES_PHONE, wind_mph=12)
    body = wind["body"] | {"firmness": "firm", "green_speed_ft": 9, "hole_conditions": [{"hole": 1}]}
    firm = change("round", body, full.round_id(), device_id=CADDIES_PHONE, parents=[wind["change_id"]])
    assert len(pushes(full, caddie_id, wind, firm).get_json()["acknowledged"]) == 2
    with reading(full.engine) as connection:
        seen = round_by_id(connection, full.robin.player_id, full.round_id())
    assert seen is not None
    assert (seen["wind_mph"], seen["firmness"], seen["closed"]) == (12, "firm", False)


def test_a_shot_that_is_moved_to_another_round_reads_as_deleted(full: House) -> None:
    caddie_id, own = full.caddie(), _own_shot(full)
    cursor = pulled(full, caddie_id)["cursor"]
    moved = own["body"] | {"round_id": _other_round(full), "note": "elsewhere"}
    robin_pushes(full, change("shot", moved, own["record_id"], parents=[own["change_id"]]))
    (seen,) = pulled(full, caddie_id, cursor)["changes"]
    assert (seen["record_id"], seen["op"], seen["body"]) == (own["record_id"], "delete", None)
    assert "is not a shot of this round" in refused(full, caddie_id, shot(full, record_id=own["record_id"]))


def _ends_it(full: House, caddie_id: str) -> None:
    assert full.client("Robin").delete(robins(full, f"/caddies/{caddie_id}")).status_code == 204


def _closes(full: House, _: str) -> None:
    robin_pushes(full, round_put(full, closed=True))


def _closes_and_opens(full: House, _: str) -> None:
    robin_pushes(full, round_put(full, closed=True))
    robin_pushes(full, round_put(full, closed=False))


def _deletes(full: House, _: str) -> None:
    robin_pushes(full, round_put(full) | {"op": "delete", "body": None})


def _new_password(full: House, _: str) -> None:
    set_password(full.engine, "Robin", PASSWORD + " anew")


def _leaves(full: House, caddie_id: str) -> None:
    answer = full.client(caddie_id).delete(f"/api/caddying/{caddie_id}")
    assert answer.status_code == 204
    assert "Max-Age=0" in answer.headers["Set-Cookie"]


ENDS = {
    _ends_it: TAKEN_BACK,
    _closes: CLOSED,
    _closes_and_opens: CLOSED,
    _deletes: NO_ROUND,
    _new_password: TAKEN_BACK,
    _leaves: TAKEN_BACK,
}


@pytest.mark.parametrize("end", ENDS)
def test_when_it_has_ended_nothing_is_taken_and_nothing_shown(full: House, end: Any) -> None:
    caddie_id, late = full.caddie(), shot(full)
    unused = invites(full)
    end(full, caddie_id)
    if end in (_ends_it, _leaves):
        _ends_it(full, unused["caddie_id"])
    before = log(full)
    address = f"/api/caddying/{caddie_id}"
    for answer in (
        pushes(full, caddie_id, late),
        full.client(caddie_id).get(f"{address}/changes"),
        full.client(caddie_id).get(address),
    ):
        said = problem(answer, 403)["detail"]
        assert said.startswith(f"Entering for Robin has ended: {ENDS[end]}. ")
        assert "What was not sent before stays on your phone" in said
    assert log(full) == before
    assert WRONG in problem(takes(full, unused["code"])[0], 404)["detail"]
    states = {one["state"] for one in full.client("Robin").get(robins(full, "/caddies")).get_json()["caddies"]}
    assert states == {"ended"}


def test_what_was_kept_on_the_phone_goes_in_by_inviting_again(full: House) -> None:
    first, late = full.caddie(), shot(full)
    _closes(full, first)
    problem(pushes(full, first, late), 403)
    problem(full.client("Robin").post(robins(full, f"/rounds/{full.round_id()}/caddies")), 409)
    robin_pushes(full, round_put(full, closed=False))
    problem(pushes(full, first, late), 403)
    answer, _ = takes(full, invites(full)["code"])
    caddie_id = answer.get_json()["caddie_id"]
    full.caddies[caddie_id] = answer.headers["Set-Cookie"].split("=", 1)[1].split(";")[0]
    assert pushes(full, caddie_id, late).get_json()["acknowledged"] == [late["change_id"]]


@pytest.mark.parametrize(("seconds", "good"), [(-1, True), (0, False)])
def test_it_is_good_for_two_days(full: House, seconds: int, good: bool) -> None:
    with freeze_time(START) as clock:
        code = invites(full)["code"]
        caddie_id = full.caddie()
        code = invites(full)["code"]
        clock.tick(LASTS + timedelta(seconds=seconds))
        assert (takes(full, code)[0].status_code == 201) == good
        answer = pushes(full, caddie_id, shot(full))
        assert (answer.status_code == 200) == good
        assert good or TOO_OLD in problem(answer, 403)["detail"]


def test_an_invitation_works_once_and_for_one_round_alone(full: House) -> None:
    code = invites(full)["code"]
    caddie_id = takes(full, code)[0].get_json()["caddie_id"]
    assert WRONG in problem(takes(full, code)[0], 404)["detail"]
    other = invites(full, _other_round(full))["code"]
    other_id = takes(full, other)[0].get_json()["caddie_id"]
    mine = full.caddie()
    for foreign in (caddie_id, other_id, named("nobody")):
        stranger = full.client(mine)
        problem(stranger.get(f"/api/caddying/{foreign}"), 401)
        problem(stranger.post(f"/api/caddying/{foreign}/changes", json={"device_id": "x", "changes": []}), 401)


def test_of_those_who_come_at_once_one_takes_it_up(full: House) -> None:
    code, gate = invites(full)["code"], Barrier(4)

    def comes(turn: int) -> bool:
        gate.wait(timeout=60)
        return take_up(full.engine, SECRET, code, f"Casey {turn}", "phone") is not None

    with ThreadPoolExecutor(4) as phones:
        assert sorted(phones.map(comes, range(4))) == [False] * 3 + [True]


@pytest.mark.parametrize("name", ["   ", "\x07", "x" * 61, ""])
def test_a_name_is_a_name(shared: House, name: str) -> None:
    shared.end_caddies()
    code = invites(shared)["code"]
    said = problem(takes(shared, code, name)[0], 422)
    assert "name" in said["detail"]
    assert takes(shared, code)[0].status_code == 201


def test_a_round_has_three_at_once_and_the_oldest_may_be_ended(full: House) -> None:
    made = [invites(full) for _ in range(3)]
    address = robins(full, f"/rounds/{full.round_id()}/caddies")
    assert "3 invitations or caddies" in problem(full.client("Robin").post(address), 409)["detail"]
    _ends_it(full, made[0]["caddie_id"])
    assert full.client("Robin").post(address).status_code == 201
    problem(full.client("Robin").delete(robins(full, f"/caddies/{made[0]['caddie_id']}")), 404)
    problem(full.client("Robin").post(robins(full, f"/rounds/{named('no round')}/caddies")), 409)
    sams = next(raw["record_id"] for raw in full.sam.changes if raw["kind"] == "round")
    problem(full.client("Robin").post(robins(full, f"/rounds/{sams}/caddies")), 409)


def test_a_caddie_fills_no_log(full: House, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(caddie_log, "MOST_BYTES", 3000)
    caddie_id = full.caddie()
    assert pushes(full, caddie_id, shot(full)).status_code == 200
    before = log(full)
    large = shot(full, body={"note": "x" * 1900})
    said = problem(pushes(full, caddie_id, large, shot(full)), 507)
    assert "are too much for one round (up to 3000 bytes)" in said["detail"]
    assert log(full) == before


def test_erasing_the_player_ends_it_and_tells_the_caddies_phone(full: House) -> None:
    caddie_id = full.caddie()
    code = invites(full)["code"]
    erase_player(full.engine, full.robin.player_id)
    for path in ("", "/changes"):
        problem(full.client(caddie_id).get(f"/api/caddying/{caddie_id}{path}"), 410)
    problem(pushes(full, caddie_id, shot(full)), 410)
    problem(takes(full, code)[0], 410)
    with reading(full.engine) as connection:
        rows = connection.execute(sa.select(CADDIE)).all()
    assert {(row.name, row.device_id) for row in rows} == {(None, None)}
    assert all(row.ended_at for row in rows)


def test_everything_that_is_kept_names_who_entered(full: House) -> None:
    full.caddie()
    (kept,) = full.client("Robin").get(robins(full, "/everything")).get_json()["caddies"]
    assert (kept["name"], kept["round_id"]) == ("Casey", full.round_id())


def test_without_accounts_it_works_on_this_machine(tmp_path: Any) -> None:
    app = create_app({"DATABASE": f"sqlite:///{tmp_path / 'open.sqlite'}"})
    here, phone, player_id, round_id = app.test_client(), app.test_client(), named("Robin"), named("round")
    changes = [
        change("player", {"name": "Robin", "plays": "right"}, player_id),
        change("round", body_of("round"), round_id),
    ]
    here.post(f"/api/players/{player_id}/changes", json={"device_id": "phone", "changes": changes})
    code = here.post(f"/api/players/{player_id}/rounds/{round_id}/caddies").get_json()["code"]
    body = {"code": code, "name": "Casey", "device_id": CADDIES_PHONE}
    caddie_id = phone.post("/api/caddying", json=body).get_json()["caddie_id"]
    one = change("shot", body_of("shot", round_id=round_id), device_id=CADDIES_PHONE)
    club = change("club", {"label": "9 iron", "sort": "iron"}, device_id=CADDIES_PHONE)
    done = phone.post(f"/api/caddying/{caddie_id}/changes", json={"device_id": CADDIES_PHONE, "changes": [one, club]})
    assert done.get_json()["acknowledged"] == [one["change_id"]]
    problem(here.get(f"/api/caddying/{caddie_id}"), 401)
    app.extensions["pencilbag_engine"].dispose()


def test_guesses_at_codes_are_limited(shared: House) -> None:
    limiter.reset()
    with freeze_time(datetime(2090, 5, 1, tzinfo=UTC)):
        answers = [takes(shared, f"guess {n}")[0].status_code for n in range(70)]
    limiter.reset()
    assert answers == [404] * 60 + [429] * 10
