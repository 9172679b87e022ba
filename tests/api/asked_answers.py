"""Every answer that the description has a schema for, asked of a world that holds what can be answered: the demo
season, a player with a mapped hole, one who has nothing yet, and one in an open competition round."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from server.api.attempts import limiter
from server.files.demo import FOLDER
from server.game.geodesy import LocalFrame
from server.game.geojson_maps import HoleMap, to_geojson
from server.store.accounts import add_account
from server.store.caddies import invite
from server.store.credentials import INVITATION, JOIN, give
from server.store.engine import reading
from server.store.log import push
from server.store.players import courses, players_by_name
from server.store.sharing import share, write_note
from tests.api.people import CADDIES_PHONE, PASSWORD, SECRET, House, house
from tests.made_once import copy_demo
from tests.records.made import Season, body_of, change, default_clubs, named, par_four

Given = dict[str, Any]
Body = dict[str, Any]


UNMAPPED = named("a course without a map")


@dataclass(frozen=True)
class Ask:
    """One question: the operation, who asks ("" for nobody), the parameters by their names in the description, and the
    body, or what makes it (a one-time code works once). `about`: what is special about it."""

    operation: str
    who: str
    given: Given = field(default_factory=dict)
    body: Body | Callable[[House], Body] | None = None
    about: str = ""

    def __str__(self) -> str:
        return " ".join(filter(None, (self.operation, self.about)))


@dataclass(frozen=True)
class World:
    """The house, with `wren` (the demo), `new` (nothing yet) and `locked` in it: their ids."""

    house: House
    wren: str
    new: str
    locked: str
    asks: list[Ask]

    @property
    def app(self) -> Flask:
        """The application."""
        return self.house.app


def make_world(database: str, **config: Any) -> World:
    """The world on a database of the demo season."""
    made = house(database, **config)
    wren = _id_of(made, "Wren Quillfeather")
    new, locked = Season("Lark Inkwell"), Season("Finch Blotter")
    clubs = default_clubs(locked)
    par_four(locked, locked.round("before", played_on="2026-05-01", kind="competition"), clubs)
    locked.round("today", played_on="2026-05-02", kind="competition")
    # closed and opened again, so that the round says when evidence could be read
    times = {"closed_at": "2026-05-01T10:00:00.000Z", "reopened_at": "2026-05-01T11:00:00.000Z"}
    locked.round("again", played_on="2026-05-01", kind="competition", closings=[times])
    for one in (new, locked):
        push(made.engine, one.player_id, "phone", one.changes, strict=True)
    for name, player_id in (("Wren", wren), ("Lark", new.player_id), ("Finch", locked.player_id)):
        made.accounts[name] = add_account(made.engine, name, "player", PASSWORD, player_id=player_id)
        share(made.engine, player_id, reader="Ash", squad=None)
    write_note(made.engine, made.robin.player_id, made.accounts["Ash"], "club", "driver", "swings well")
    push(made.engine, made.robin.player_id, "phone", [change("club", {"label": ""}), "no change"])
    course = body_of("course", name="A course without a map")
    push(made.engine, made.robin.player_id, "phone", [change("course", course, UNMAPPED)], strict=True)
    give(made.engine, SECRET, made.accounts["Robin"].account_id, INVITATION)
    world = World(made, wren, new.player_id, locked.player_id, [])
    world.asks.extend(_asks(world))
    return world


def _id_of(made: House, name: str) -> str:
    with reading(made.engine) as connection:
        return players_by_name(connection, name)[0].player_id


def _code(kind: str, who: str) -> Callable[[House], Body]:
    def make(made: House) -> Body:
        return {"code": give(made.engine, SECRET, made.accounts[who].account_id, kind)[1]}

    return make


def _taking_up(made: House) -> Body:
    code = invite(made.engine, SECRET, made.robin.player_id, made.round_id())[1]
    return {"code": code, "name": "Casey", "device_id": "phone"}


def _asks(world: World) -> Iterator[Ask]:
    yield from _about_shots(world)
    yield from _about_rounds(world)
    yield from _about_people(world)


COURSE = "Blottingham Heath"
GROUPINGS = ("club", "category", "lie", "distance", "hole", "round", "month", "setup")
SPANS = {"to": "2026-06-30", "beside_from": "2026-07-01"}


def _about_shots(world: World) -> Iterator[Ask]:
    wren, new = {"player_id": world.wren}, {"player_id": world.new}
    nothing = {"from": "2020-01-01", "to": "2020-01-02"}
    for by in GROUPINGS:
        yield Ask("read_strokes_gained", "Wren", wren | {"by": by}, about=f"by {by}")
    for by in ("club", "category", "lie", "distance", "setup"):
        yield Ask("compare_spans", "Wren", wren | SPANS | {"by": by}, about=f"by {by}")
    beside = {"beside_from": "2020-01-01", "beside_to": "2020-01-02"}
    yield Ask("compare_spans", "Wren", wren | beside, about="with an empty span")
    trials = {
        "of clubs": {"a": "4 iron A", "b": "4 iron B"},
        "of setups": {"a": "driver@2026-06-22", "b": "driver@2026-01-01"},
        "of balls": {"a": "ball:yellow Marigold", "b": "ball:white Curlew"},
        "with a putter": {"a": "putter", "b": "driver"},
    }
    for about, sides in trials.items():
        yield Ask("read_trial", "Wren", wren | sides, about=about)
    yield Ask("read_putting", "Wren", wren | {"club": "putter"}, about="of a putter")
    yield Ask("read_putting", "Wren", wren | {"club": "putter", "against": "driver"}, about="of two")
    yield Ask("read_part_swings", "Wren", wren | {"club": "pitching wedge"}, about="of a club")
    yield Ask("read_patterns", "Wren", wren | {"club": "driver", "split": "shape"}, about="of a club")
    air = {"temperature_c": 10.0, "altitude_m": 500.0}
    yield Ask("read_distances", "Wren", wren | air, about="in other air")
    evidence = (
        "strokes_gained", "level", "scores", "putting", "part_swings", "priorities", "patterns", "strikes", "distances",
    )  # fmt: skip
    for name in evidence:
        yield Ask(f"read_{name}", "Wren", wren)
        yield Ask(f"read_{name}", "Lark", new, about="of a new player")
        if name != "patterns":
            yield Ask(f"read_{name}", "Wren", wren | nothing, about="without a shot")
    yield Ask("compare_spans", "Lark", new | SPANS, about="of a new player")
    course = json.loads((FOLDER / "hole_maps.geojson").read_text())["course"]
    course_id = _course_id(world, course)
    tee = wren | {"course_id": course_id, "hole": 1}
    yield Ask("read_tee_plan", "Wren", tee)
    yield Ask("plan_shot", "Wren", wren, {"course_id": course_id, "hole": 1, "clubs": ["driver"]}, "with one club")
    yield Ask("read_course_bag", "Wren", wren | {"course_id": course_id, "hole": 16}, about="on a short hole")
    one_hole = wren | {"course_id": course_id, "first_hole": 12, "last_hole": 12}
    yield Ask("read_round_ahead", "Wren", one_hole)
    yield Ask("list_plannable_courses", "Wren", wren)
    yield Ask("list_plannable_courses", "Lark", new, about="of a new player")
    yield Ask("read_hole_maps", "Wren", wren | {"course_id": course_id, "frame": "yards"})
    robin = {"player_id": world.house.robin.player_id, "course_id": UNMAPPED}
    yield Ask("store_hole_maps", "Robin", robin | {"hole": 1}, _map())
    yield Ask("read_hole_maps", "Robin", robin, about="on the earth")
    yield Ask("read_rounds_checked", "Robin", robin)
    yield Ask("read_season_package", "Wren", {"year": 2026})
    yield from _about_practice(world)


def _about_practice(world: World) -> Iterator[Ask]:
    robin = world.house.robin
    own = {"player_id": robin.player_id}
    session = next(raw["record_id"] for raw in robin.changes if raw["kind"] == "session")
    for source in ("practice", "both"):
        for name in ("patterns", "distances", "putting", "part_swings"):
            yield Ask(f"read_{name}", "Robin", own | {"source": source}, about=f"of {source}")
            yield Ask(
                f"read_{name}", "Lark", {"player_id": world.new, "source": source}, about=f"of a new one, {source}"
            )
    for who, player_id in (("Robin", robin.player_id), ("Wren", world.wren), ("Lark", world.new)):
        yield Ask("read_practice_against_course", who, {"player_id": player_id})
        yield Ask("read_practice_targets", who, {"player_id": player_id, "seed": 7})
    table = {"table": "club,carry\n8 iron,141\n", "date": "2026-05-03"}
    yield Ask("import_practice", "Robin", own, table)
    yield Ask("list_practice_sessions", "Robin", own)
    yield Ask("list_practice_sessions", "Lark", {"player_id": world.new}, about="of a new player")
    yield Ask("read_practice_session", "Robin", own | {"session_id": session})


def _course_id(world: World, name: str) -> str:
    with reading(world.house.engine) as connection:
        return courses(connection, world.wren)[name][0]


def _map() -> Body:
    def square(kind: str, y: float) -> dict[str, Any]:
        ring = [[-8, y - 8], [8, y - 8], [8, y + 8], [-8, y + 8], [-8, y - 8]]
        return {
            "type": "Feature",
            "properties": {"golf": kind},
            "geometry": {"type": "Polygon", "coordinates": [ring]},
        }

    frame = LocalFrame(-1.5, 52.0, 30.0)
    return dict(to_geojson(HoleMap([square("tee", 0.0), square("green", 400.0)], frame)))


def _about_rounds(world: World) -> Iterator[Ask]:
    players = {"Wren": world.wren, "Lark": world.new, "Finch": world.locked}
    for who, player_id in players.items():
        about = {"Wren": "", "Lark": "of a new player", "Finch": "while locked"}[who]
        given = {"player_id": player_id}
        for operation in ("read_player", "list_rounds", "read_choices", "pull_changes", "read_everything"):
            yield Ask(operation, who, given, about=about)
        yield Ask("list_players", who, about=about)
        yield Ask("read_squad", who, about=about)
    yield Ask("list_rounds", "Wren", {"player_id": world.wren, "limit": 2}, about="a page")
    yield Ask("pull_changes", "Wren", {"player_id": world.wren, "limit": 2}, about="a page")
    yield Ask("pull_changes", "Wren", {"player_id": world.wren, "after": "of-another-log"}, about="after a reset")
    yield Ask("read_squad", "Ash", {"limit": 1}, about="a page")
    yield Ask("read_squad", "Ash", about="of a coach")
    yield Ask("read_ranks", "Ash", about="of a coach")
    yield Ask("read_ranks", "Wren", {"by": "putting"}, about="by a category")
    yield Ask("read_squad_holes", "Ash", about="of a coach, without a course")
    yield Ask("read_squad_holes", "Ash", {"course": COURSE}, about="of a coach")
    wren = {"player_id": world.wren}
    yield Ask("read_holes", "Wren", wren | {"course": COURSE})
    yield Ask("read_against", "Ash", wren, about="beside a squad of too few")
    yield Ask("read_against", "Wren", wren | {"reference": "field"}, about="beside a field of too few")
    yield Ask("read_pair", "Ash", wren | {"other": world.new}, about="with a new player")
    robin = world.house.robin
    rounds = {"Robin": (robin, "2026-05-01"), "Finch": (Season("Finch Blotter"), "again")}
    for who, (season, name) in rounds.items():
        round_id = named(f"{season.player_id}|{name}")
        about = "while locked" if who == "Finch" else ""
        yield Ask("read_scorecard", who, {"player_id": season.player_id, "round_id": round_id}, about=about)
        yield Ask("read_record", who, {"player_id": season.player_id, "record_id": round_id}, about=about)
    yield Ask("list_quarantine", "Robin", {"player_id": robin.player_id})
    changes = [change("club", {"label": "7 iron", "sort": "iron"}), change("club", {"label": ""}), "no change"]
    push_ = {"device_id": "script", "changes": changes}
    yield Ask("push_changes", "Robin", {"player_id": robin.player_id}, push_)
    deleted = change("club", None, named(f"{robin.player_id}|club driver"))
    yield Ask(
        "push_changes", "Sam", {"player_id": world.house.sam.player_id}, {"device_id": "x", "changes": []}, "none"
    )
    yield Ask("push_changes", "Robin", {"player_id": robin.player_id}, {"device_id": "x", "changes": [deleted]}, "gone")
    gone = {"player_id": robin.player_id, "record_id": deleted["record_id"]}
    yield Ask("read_record", "Robin", gone, about="that is deleted")
    header = "player,played_on,kind,course,tees,hole,par,length_yd,ball,shot,lie,distance,unit,club,holed"
    table = f"{header}\nRobin,2026-05-03,practice,,,1,4,400,1,1,tee,400,yd,driver,yes\n"
    yield Ask("import_shots", "Robin", {"player_id": robin.player_id}, {"table": table})


def _about_people(world: World) -> Iterator[Ask]:
    robin = {"player_id": world.house.robin.player_id}
    for operation in ("read_health", "read_readiness", "list_baselines", "read_me"):
        yield Ask(operation, "")
    yield Ask("read_baseline", "", {"baseline_id": "tour"})
    for who in ("Robin", "Ash"):
        yield Ask("read_me", who, about=f"as {who}")
    yield Ask("sign_in", "", body={"name": "Robin", "password": PASSWORD})
    yield Ask("join_by_code", "", body=_code(JOIN, "Ash"))
    yield Ask("make_join_code", "Robin")
    yield Ask("make_token", "Robin", body={"label": "script", "scopes": ["read_own"]})
    yield Ask("list_tokens", "Robin")
    yield Ask("list_sessions", "Robin")
    yield Ask("list_shares", "Robin", robin)
    yield Ask("make_share", "Robin", robin, {"reader": "Hazel"})
    yield Ask("list_notes", "Robin", robin)
    yield Ask("write_note", "Ash", robin, {"about": "club", "about_id": "driver", "words": "a good one"})
    yield Ask("list_invitations", "Robin", robin)
    yield Ask("make_invitation", "Robin", robin)
    yield Ask("accept_invitation", "Hazel", body=_code(INVITATION, "Robin"))
    yield Ask("list_caddies", "Robin", robin)
    yield Ask("invite_caddie", "Robin", robin | {"round_id": world.house.round_id()})
    yield Ask("take_up_caddying", "", body=_taking_up)
    caddie_id = world.house.caddie()
    shot = change("shot", body_of("shot", round_id=world.house.round_id()), device_id=CADDIES_PHONE)
    push_ = {"device_id": CADDIES_PHONE, "changes": [shot, change("club", {"label": "9 iron", "sort": "iron"})]}
    yield Ask("push_round_changes", caddie_id, {"caddie_id": caddie_id}, push_)
    yield Ask("pull_round_changes", caddie_id, {"caddie_id": caddie_id})
    yield Ask("read_caddying", caddie_id, {"caddie_id": caddie_id})
    yield Ask("read_everything", "Robin", robin)


@dataclass(frozen=True)
class Operation:
    """An operation of the description: its path, method and parameters, and the statuses that have a JSON answer with
    their schemas."""

    path: str
    method: str
    parameters: dict[str, str]
    answers: dict[int, dict[str, Any]]


def operations_of(described: dict[str, Any]) -> dict[str, Operation]:
    """Every operation of a description by its id."""
    found = {}
    for path, methods in described["paths"].items():
        shared = methods.get("parameters", [])
        for method, one in methods.items():
            if method == "parameters":
                continue
            said = [_resolved(described, each) for each in (*shared, *one.get("parameters", []))]
            answers = {
                int(status): answer["content"]["application/json"]["schema"]
                for status, answer in one["responses"].items()
                if status in ("200", "201") and "schema" in answer.get("content", {}).get("application/json", {})
            }
            found[one["operationId"]] = Operation(path, method, {each["name"]: each["in"] for each in said}, answers)
    return found


def _resolved(described: dict[str, Any], said: dict[str, Any]) -> dict[str, Any]:
    if "$ref" not in said:
        return said
    *_, section, name = said["$ref"].split("/")
    return dict(described["components"][section][name])


def body_asked(ask: Ask, made: House) -> Body | None:
    """The body of a question."""
    return ask.body(made) if callable(ask.body) else ask.body


def asked(world: World, operations: dict[str, Operation], ask: Ask) -> TestResponse:
    """The answer to a question, as if it were the first in a long time."""
    limiter.reset()
    operation = operations[ask.operation]
    in_path = {name: value for name, value in ask.given.items() if operation.parameters[name] == "path"}
    query = {name: value for name, value in ask.given.items() if operation.parameters[name] == "query"}
    client: FlaskClient = world.house.client(ask.who or None)
    more = {} if ask.body is None else {"json": body_asked(ask, world.house)}
    return client.open(operation.path.format(**in_path), method=operation.method.upper(), query_string=query, **more)


def database_in(folder: Path) -> str:
    """The address of a database with the demo season in a folder."""
    copy_demo(folder / "log.sqlite")
    return f"sqlite:///{folder / 'log.sqlite'}"
