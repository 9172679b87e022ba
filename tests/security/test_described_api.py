"""Requests made from the API's own description, by every role: no server error, and every answer as described.

Few examples for each route, made by every role, always the same ones, so that the run stays short; the long tier makes
many more, and new ones each time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, note, settings
from hypothesis import strategies as st
from hypothesis.stateful import run_state_machine_as_test
from schemathesis.checks import not_a_server_error
from schemathesis.core.failures import Failure, FailureGroup
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from server.api.attempts import limiter
from server.api.authorization import COOKIE
from server.api.permissions import in_person_only
from tests.api.people import House, house
from tests.tiers import LONG, count

EXAMPLES = count(4, 200)
WALKS, STEPS = count(2, 100), count(10, 20)

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
    response_headers_conformance,
]

SETTINGS = settings(
    max_examples=EXAMPLES,
    deadline=None,
    derandomize=not LONG,
    database=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)

ROLES: dict[str, tuple[str | None, tuple[str, ...] | None]] = {
    "nobody": (None, None),
    "player": ("Robin", None),
    "coach": ("Ash", None),
    "owner": ("Olive", None),
    "caddie": (None, ("caddie",)),
    "token": ("Robin", ("read_own", "write_own")),
}


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    made = house(f"sqlite:///{tmp_path_factory.mktemp('described') / 'log.sqlite'}")
    made.app.config["PROPAGATE_EXCEPTIONS"] = False
    yield made
    made.engine.dispose()


def signs(full: House, role: str) -> dict[str, str]:
    """The header by which a role signs a request."""
    name, scopes = ROLES[role]
    if name is None:
        cookies = full.cookies(full.caddie() if scopes else None)
        stated = "; ".join(f"{cookie}={value}" for cookie, value in cookies.items())
        return {"Cookie": stated} if stated else {}
    return full.bearer(name, *scopes) if scopes else {"Cookie": f"{COOKIE}={full.session(name)[1]}"}


def described(full: House) -> Any:
    """The API as it describes itself."""
    return schemathesis.openapi.from_wsgi("/api/openapi.json", full.app)


OPERATIONS = 40
"""Methods of routes in the description; the test below counts them."""


def operations(full: House) -> list[Any]:
    return [found.ok() for found in described(full).get_all_operations()]


def test_the_description_has_every_operation(full: House) -> None:
    there = [
        (rule.rule, method)
        for rule in full.app.url_map.iter_rules()
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
        if rule.rule.startswith("/api/") and not rule.endpoint.startswith("api-docs.")
    ]
    assert len(operations(full)) == len(there) >= OPERATIONS


def test_every_answer_is_as_described(full: House) -> None:
    for operation in operations(full):
        headers = {role: signs(full, role) for role in ROLES}
        probe(operation, {"player_id": full.robin.player_id, "caddie_id": next(reversed(full.caddies), "")}, headers)


def probe(operation: Any, known: dict[str, str], headers: dict[str, dict[str, str]]) -> None:
    """Requests of one operation, each made by every role; about half of them on a player, or a caddie's round, who is
    there. `headers`: by role."""

    @SETTINGS
    @given(case=operation.as_strategy(), there=st.booleans())
    def asked(case: Any, there: bool) -> None:
        for name in known.keys() & (case.path_parameters if there else {}):
            case.path_parameters[name] = known[name]
        for role, signed in headers.items():
            note(role)
            limiter.reset()
            case.call_and_validate(headers=signed, checks=CHECKS)

    asked()


@pytest.mark.parametrize("role", ["player", "coach"])
def test_one_request_after_another_by_what_the_answers_name(full: House, role: str) -> None:
    """A walk from list to record to what hangs on it, as the answers' own ids lead."""
    machine: Any = described(full).as_state_machine()

    class Walk(machine):  # type: ignore[misc]
        def setup(self) -> None:
            limiter.reset()
            self.headers = signs(full, role)

        def get_call_kwargs(self, case: Any) -> dict[str, Any]:
            return {"headers": self.headers}

        def validate_response(self, response: Any, case: Any, **_: Any) -> None:
            case.validate_response(response, checks=CHECKS)

    run_state_machine_as_test(Walk, settings=settings(SETTINGS, max_examples=WALKS, stateful_step_count=STEPS))


def test_the_checks_can_fail(full: House, monkeypatch: pytest.MonkeyPatch) -> None:
    broken: dict[str, Callable[[], Any]] = {
        "signing_in.Me": lambda: {"open_house": "perhaps"},
        "baselines.Baselines": lambda: 1 / 0,
    }
    for endpoint, answer in broken.items():
        assert not in_person_only(endpoint)
        with monkeypatch.context() as patched:
            patched.setitem(full.app.view_functions, endpoint, lambda answer=answer, **_: answer())
            path = next(rule.rule for rule in full.app.url_map.iter_rules(endpoint))
            (operation,) = [one for one in operations(full) if (one.path, one.method) == (path, "get")]
            with pytest.raises((FailureGroup, Failure)):
                operation.Case().call_and_validate(checks=CHECKS)
