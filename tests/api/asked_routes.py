"""Every route of the application: what it asks for, a sound request, and what one who may asks it is answered."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from uuid import uuid4

from server.api.permissions import NOTING, READING, READING_OWN, THE_PLAYER, WRITING
from server.store.credentials import INVITATION, SESSION, TOKEN, give
from server.store.sharing import share, write_note
from tests.api.people import PASSWORD, SECRET, House
from tests.records.made import change, named

ANYBODY = "anybody"
SIGNED_IN = "signed in"
ALLOWED = "allowed"
IN_PERSON = "in person"
CADDYING = "caddying"

Body = Callable[[House, str], Any]


@dataclass(frozen=True)
class Asked:
    """One method of one route. `path` has {player} and {id}; `makes` makes what the request is about, given the house
    and who asks, and returns its id; `answer` is the status for one who may."""

    needs: str
    path: str
    answer: int = 200
    body: Any = None
    makes: Body = lambda _house, _who: named("nothing")


def _round(house: House, _who: str) -> str:
    return next(raw["record_id"] for raw in house.robin.changes if raw["kind"] == "round")


def _session(house: House, _who: str) -> str:
    return next(raw["record_id"] for raw in house.robin.changes if raw["kind"] == "session")


def _share(house: House, _who: str) -> str:
    """A share that nobody reads by: ending it takes nothing from the others who ask."""
    return share(house.engine, house.robin.player_id, reader=None, squad="nobody's")


def _note(house: House, who: str) -> str:
    author = house.accounts[who if who in house.accounts else "Ash"]
    return write_note(house.engine, house.robin.player_id, author, "club", "driver", "swings well")


def _invitation(house: House, _who: str) -> str:
    return give(house.engine, SECRET, house.accounts["Robin"].account_id, INVITATION)[0]


def _free_round(house: House, _who: str) -> str:
    house.end_caddies()
    return house.round_id()


def _caddie(house: House, _who: str) -> str:
    return house.caddie()


def _credential(kind: str) -> Body:
    def make(house: House, who: str) -> str:
        account = house.accounts[who if who in house.accounts else "Ash"]
        return give(house.engine, SECRET, account.account_id, kind)[0]

    return make


P = "/api/players/{player}"
DAY = {"device_id": "script", "changes": []}
GEOJSON = {"type": "FeatureCollection", "features": []}
ERASURE = {"name": "another name", "meant": "erase everything"}
PLAN = {"course_id": named("no course"), "hole": 18}
NOTE = {"about": "club", "about_id": "driver", "words": "swings well"}
WORDS = {"password": "not the password", "new_password": PASSWORD}
TAKING_UP = {"code": "no such code", "name": "Casey", "device_id": "phone"}
TOKEN_ASKED = {"label": "script", "scopes": ["write_squad"]}

ROUTES: dict[tuple[str, str], Asked] = {
    ("front_page", "GET"): Asked(ANYBODY, "/"),
    ("front_file", "GET"): Asked(ANYBODY, "/js/app.js"),
    ("description", "GET"): Asked(ANYBODY, "/api", 302),
    ("api-docs.openapi_json", "GET"): Asked(ANYBODY, "/api/openapi.json"),
    ("operation.Health", "GET"): Asked(ANYBODY, "/api/health"),
    ("operation.Ready", "GET"): Asked(ANYBODY, "/api/ready"),
    ("operation.Metrics", "GET"): Asked(ANYBODY, "/api/metrics"),
    ("baselines.Baselines", "GET"): Asked(ANYBODY, "/api/baselines"),
    ("baselines.OneBaseline", "GET"): Asked(ANYBODY, "/api/baselines/tour"),
    ("signing_in.Me", "GET"): Asked(ANYBODY, "/api/me"),
    ("signing_in.SignIn", "POST"): Asked(ANYBODY, "/api/sign-in", 401, {"name": "Nobody", "password": "x"}),
    ("signing_in.Join", "POST"): Asked(ANYBODY, "/api/join", 401, {"code": "no such code"}),
    ("signing_in.SignOut", "POST"): Asked(IN_PERSON, "/api/sign-out", 204),
    ("accounts.Password", "POST"): Asked(IN_PERSON, "/api/me/password", 403, WORDS),
    ("accounts.JoinCode", "POST"): Asked(IN_PERSON, "/api/me/join-code", 201),
    ("accounts.Tokens", "GET"): Asked(IN_PERSON, "/api/me/tokens"),
    ("accounts.Tokens", "POST"): Asked(IN_PERSON, "/api/me/tokens", 422, TOKEN_ASKED),
    ("accounts.OneToken", "DELETE"): Asked(IN_PERSON, "/api/me/tokens/{id}", 204, makes=_credential(TOKEN)),
    ("accounts.Sessions", "GET"): Asked(IN_PERSON, "/api/me/sessions"),
    ("accounts.OneSession", "DELETE"): Asked(IN_PERSON, "/api/me/sessions/{id}", 204, makes=_credential(SESSION)),
    ("players.Players", "GET"): Asked(SIGNED_IN, "/api/players"),
    ("season.SeasonPackage", "GET"): Asked(ALLOWED, "/api/season/2026/datapackage.json?player={player}"),
    ("season.SeasonTable", "GET"): Asked(ALLOWED, "/api/season/2026/rounds.csv?player={player}"),
    ("changes.Changes", "GET"): Asked(READING, f"{P}/changes"),
    ("changes.Changes", "POST"): Asked(WRITING, f"{P}/changes", 200, DAY),
    ("changes.Quarantine", "GET"): Asked(READING, f"{P}/quarantine"),
    ("players.OnePlayer", "GET"): Asked(READING, P),
    ("players.Rounds", "GET"): Asked(READING, f"{P}/rounds"),
    ("players.Scorecard", "GET"): Asked(READING, P + "/rounds/{id}/scorecard", makes=_round),
    ("players.Record", "GET"): Asked(READING, P + "/records/{id}", makes=_round),
    ("practice.Sessions", "GET"): Asked(READING, f"{P}/practice"),
    ("practice.AgainstCourse", "GET"): Asked(READING, f"{P}/practice-against-course"),
    ("practice.Targets", "GET"): Asked(READING, f"{P}/practice-targets?seed=1"),
    ("practice.OneSession", "GET"): Asked(READING, P + "/practice/{id}", makes=_session),
    ("evidence.StrokesGained", "GET"): Asked(READING, f"{P}/strokes-gained"),
    ("squad.Squad", "GET"): Asked(SIGNED_IN, "/api/squad"),
    ("others.Ranks", "GET"): Asked(SIGNED_IN, "/api/squad/ranks"),
    ("others.SquadHoles", "GET"): Asked(SIGNED_IN, "/api/squad/holes"),
    ("others.PlayerHoles", "GET"): Asked(READING, f"{P}/holes"),
    ("others.Against", "GET"): Asked(READING, f"{P}/against?reference=field"),
    ("others.Pair", "GET"): Asked(READING, P + "/pair?other={player}", 422),
    ("squad.Choices", "GET"): Asked(READING, f"{P}/choices"),
    ("evidence.TwoSpans", "GET"): Asked(READING, f"{P}/compared?to=2026-05-01&beside_from=2026-05-02"),
    ("evidence.Level", "GET"): Asked(READING, f"{P}/level"),
    ("evidence.Scores", "GET"): Asked(READING, f"{P}/scores"),
    ("evidence.TrialOfTwo", "GET"): Asked(READING, f"{P}/trial?a=driver&b=putter"),
    ("putting.Putting", "GET"): Asked(READING, f"{P}/putting"),
    ("putting.PartSwings", "GET"): Asked(READING, f"{P}/part-swings"),
    ("priorities.Priorities", "GET"): Asked(READING, f"{P}/priorities"),
    ("plans.Patterns", "GET"): Asked(READING, f"{P}/patterns"),
    ("plans.Strikes", "GET"): Asked(READING, f"{P}/strikes"),
    ("plans.Distances", "GET"): Asked(READING, f"{P}/distances"),
    ("plans.TeePlan", "GET"): Asked(READING, f"{P}/tee-plan?course_id={named('no course')}&hole=1", 404),
    ("course_bags.CourseBag", "GET"): Asked(READING, f"{P}/course-bag?course_id={named('no course')}", 404),
    ("plans.Plannable", "GET"): Asked(READING, f"{P}/plans"),
    ("plans.TeePlan", "POST"): Asked(READING, f"{P}/tee-plan", 404, PLAN),
    ("rounds_ahead.RoundAhead", "GET"): Asked(READING, f"{P}/round-ahead?course_id={named('no course')}", 404),
    ("rounds_ahead.RoundsChecked", "GET"): Asked(READING, f"{P}/rounds-checked?course_id={named('no course')}", 404),
    ("plans.HoleMaps", "GET"): Asked(READING, f"{P}/hole-maps?course_id={named('no course')}", 404),
    ("plans.HoleMaps", "POST"): Asked(WRITING, f"{P}/hole-maps?course_id={named('no course')}", 404, GEOJSON),
    ("sharing.Shares", "GET"): Asked(READING_OWN, f"{P}/shares"),
    ("sharing.Shares", "POST"): Asked(THE_PLAYER, f"{P}/shares", 201, {"reader": "Ash"}),
    ("sharing.OneShare", "DELETE"): Asked(THE_PLAYER, P + "/shares/{id}", 204, makes=_share),
    ("invitations.Invitations", "GET"): Asked(READING_OWN, f"{P}/invitations"),
    ("invitations.Invitations", "POST"): Asked(THE_PLAYER, f"{P}/invitations", 201),
    ("invitations.OneInvitation", "DELETE"): Asked(THE_PLAYER, P + "/invitations/{id}", 204, makes=_invitation),
    ("invitations.Accepting", "POST"): Asked(IN_PERSON, "/api/me/invitations", 422, {"code": ""}),
    ("caddies.Caddies", "GET"): Asked(READING_OWN, f"{P}/caddies"),
    ("caddies.RoundCaddies", "POST"): Asked(THE_PLAYER, P + "/rounds/{id}/caddies", 201, makes=_free_round),
    ("caddies.OneCaddie", "DELETE"): Asked(THE_PLAYER, P + "/caddies/{id}", 204, makes=_caddie),
    ("caddying.TakingUp", "POST"): Asked(ANYBODY, "/api/caddying", 404, TAKING_UP),
    ("caddying.Caddying", "GET"): Asked(CADDYING, "/api/caddying/{id}", makes=_caddie),
    ("caddying.Caddying", "DELETE"): Asked(CADDYING, "/api/caddying/{id}", 204, makes=_caddie),
    ("caddying.RoundChanges", "GET"): Asked(CADDYING, "/api/caddying/{id}/changes", makes=_caddie),
    ("caddying.RoundChanges", "POST"): Asked(CADDYING, "/api/caddying/{id}/changes", 200, DAY, makes=_caddie),
    ("importing.Import", "POST"): Asked(WRITING, f"{P}/import", 422, {"table": "no table"}),
    ("importing.ImportPractice", "POST"): Asked(WRITING, f"{P}/import-practice", 422, {"table": "no table"}),
    ("sharing.Notes", "GET"): Asked(READING, f"{P}/notes"),
    ("sharing.Notes", "POST"): Asked(NOTING, f"{P}/notes", 201, NOTE),
    ("sharing.OneNote", "DELETE"): Asked(NOTING, P + "/notes/{id}", 204, makes=_note),
    ("own_data.Everything", "GET"): Asked(READING_OWN, f"{P}/everything"),
    ("own_data.Erasure", "POST"): Asked(THE_PLAYER, f"{P}/erasure", 422, ERASURE),
}
"""A route that is not here fails the matrix: whoever adds one says what it asks for."""


def foreign_push(player_id: str) -> dict[str, Any]:
    """A push that would change a record of this player."""
    return {"device_id": "script", "changes": [change("player", {"name": "Somebody else", "plays": "left"}, player_id)]}


def a_stranger_id() -> str:
    """The id of a player who is nowhere."""
    return str(uuid4())
