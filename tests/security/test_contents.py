"""What is sent out and taken in: policies on every answer, no inline code, bounded uploads, no path to the disk."""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from urllib.parse import quote

import pytest
from flask.testing import FlaskClient

from server.api.app import LARGEST_REQUEST
from server.api.attempts import limiter
from server.api.pages import WEB
from tests.api.asked_routes import ROUTES
from tests.api.asking import problem
from tests.api.people import PASSWORD, House, house


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    made = house(f"sqlite:///{tmp_path_factory.mktemp('contents') / 'log.sqlite'}")
    yield made
    made.engine.dispose()


@pytest.fixture
def client(full: House) -> FlaskClient:
    limiter.reset()
    return full.client("Robin")


def policy(words: str) -> dict[str, list[str]]:
    """A content policy as directive -> sources."""
    parts = [part.split() for part in words.split(";")]
    return {part[0]: part[1:] for part in parts}


@pytest.mark.parametrize(("endpoint", "method"), ROUTES)
def test_every_answer_says_that_nobody_may_frame_or_guess_at_it(
    full: House, client: FlaskClient, endpoint: str, method: str
) -> None:
    asked = ROUTES[endpoint, method]
    path = asked.path.format(player=full.robin.player_id, id=asked.makes(full, "Robin"))
    for one in (client, full.client(None)):
        answer = one.open(path, method=method, json=asked.body, buffered=True)
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Referrer-Policy"] == "no-referrer"
        found = policy(answer.headers["Content-Security-Policy"])
        assert found["frame-ancestors"] == ["'none'"]
        assert found["default-src"] == (["'self'"] if endpoint.startswith("front") else ["'none'"])
        if path.startswith("/api/"):
            assert not str(answer.content_type).startswith("text/html")
            assert answer.headers["Cache-Control"] == "no-store"


def test_pages_may_run_their_own_files_and_nothing_else(client: FlaskClient) -> None:
    found = policy(client.get("/", buffered=True).headers["Content-Security-Policy"])
    assert set(found) >= {"default-src", "img-src", "object-src", "base-uri", "form-action", "frame-ancestors"}
    words = {word for sources in found.values() for word in sources}
    assert words <= {"'self'", "'none'", "data:", "blob:"}
    assert "script-src" not in found
    assert "style-src" not in found


class Inline(HTMLParser):
    """Collects what a page runs or styles in place, and what it loads from elsewhere."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        inline = (tag == "script" and "src" not in said) or tag == "style"
        self.found += [f"<{tag}>"] if inline else []
        self.found += [f"{tag} {name}" for name in said if name.startswith("on") or name == "style"]
        addresses = [said.get(name) or "" for name in ("src", "href", "action")]
        self.found += [found for found in addresses if re.match(r"[a-z]+:|//", found)]


def test_no_page_holds_code_or_loads_from_elsewhere() -> None:
    pages = sorted(WEB.rglob("*.html"))
    assert pages
    for page in pages:
        reader = Inline()
        reader.feed(page.read_text(encoding="utf-8"))
        assert reader.found == [], page
    reader.feed("<script>1</script><p onclick='x' style='y'><img src='//evil.example/x'><a href='javascript:x'>")
    assert len(reader.found) == 5


OUTSIDE = [
    "../README.md",
    "../server/__init__.py",
    "..\\server\\__init__.py",
    "../../../../etc/passwd",
    "%2Fetc/passwd",
    "%2F%2Fetc/passwd",
    "js/../../README.md",
    "./../README.md",
    "%2e%2e/README.md",
    "%2e%2e%2fREADME.md",
    "..%2fREADME.md",
    "%252e%252e%252fREADME.md",
    "..%5cREADME.md",
    "..%c0%afREADME.md",
    "js/%00",
    "index.html%00.js",
    "....//README.md",
    ".",
    "..",
    "js",
    "js/",
]


@pytest.mark.parametrize("path", OUTSIDE)
def test_no_path_leads_out_of_the_pages(client: FlaskClient, path: str) -> None:
    answer = client.get(f"/{path}", buffered=True)
    assert answer.status_code in (308, 404)
    assert "Location" not in answer.headers or answer.headers["Location"].startswith("http://localhost/")
    assert "Pencilbag" not in answer.text
    assert "root:" not in answer.text


@pytest.mark.parametrize("path", OUTSIDE)
def test_no_name_of_a_baseline_or_a_table_is_a_path(full: House, client: FlaskClient, path: str) -> None:
    address = f"/api/players/{full.robin.player_id}"
    outside = [f"baselines/{path}", f"baselines/{quote(path, safe='')}", f"season/2026/{quote(path, safe='')}.csv"]
    for one in outside:
        assert client.get(f"/api/{one}").status_code in (308, 404)
    for query in (f"strokes-gained?baseline={quote(path)}", f"putting?baseline={quote(path)}"):
        answer = client.get(f"{address}/{query}")
        assert problem(answer, answer.status_code)["status"] in (404, 422)
    season = client.get(f"/api/season/2026/club_summary.csv?baseline={quote(path)}")
    assert problem(season, season.status_code)["status"] in (404, 422)


def test_only_known_files_lie_in_the_pages() -> None:
    """Whatever lies in web/ is served to anybody."""
    kinds = {path.suffix for path in WEB.rglob("*") if path.is_file()}
    assert kinds <= {
        ".html",
        ".js",
        ".css",
        ".json",
        ".webmanifest",
        ".svg",
        ".png",
        ".mjs",
        ".ico",
        ".md",
        ".woff2",
        ".txt",
    }
    assert not [path for path in WEB.rglob("*") if path.is_symlink() or path.name.startswith(".")]


WRITES = [key for key, asked in ROUTES.items() if key[1] == "POST" and asked.body is not None]


@pytest.mark.parametrize(("endpoint", "method"), WRITES)
def test_uploads_are_bounded(full: House, client: FlaskClient, endpoint: str, method: str) -> None:
    asked = ROUTES[endpoint, method]
    path = asked.path.format(player=full.robin.player_id, id=asked.makes(full, "Robin"))
    large = b" " * (LARGEST_REQUEST + 1)
    problem(client.open(path, method=method, data=large, content_type="application/json"), 413)


def test_secrets_stand_in_no_log_and_no_answer(
    full: House, client: FlaskClient, caplog: pytest.LogCaptureFixture
) -> None:
    session, token = full.session("Robin")[1], full.bearer("Robin", "read_own")["Authorization"].split()[1]
    code = client.post("/api/me/join-code").get_json()["code"]
    browser = full.app.test_client()
    browser.set_cookie("pencilbag_session", session)
    with caplog.at_level(logging.DEBUG):
        answers = [
            browser.post("/api/sign-in", json={"name": "Robin", "password": PASSWORD}),
            browser.post("/api/sign-in", json={"name": "Robin", "password": PASSWORD + "x"}),
            browser.post("/api/sign-in", json={"name": "Robin", "password": [PASSWORD]}),
            browser.post("/api/sign-in", json={"name": "Robin", "password": PASSWORD * 12}),
            browser.post("/api/join", json={"code": code, "more": 1}),
            browser.post("/api/join", json={"code": code}),
            browser.get("/api/players", headers={"Authorization": f"Bearer {token}"}),
            browser.get("/api/players", headers={"Authorization": f"Bearer {token}x"}),
            browser.get(f"/api/players?token={token}"),
        ]
    said = caplog.text + "".join(answer.text for answer in answers)
    assert [answer.status_code for answer in answers] == [200, 401, 422, 422, 422, 200, 200, 401, 400]
    for secret in (PASSWORD, session, token, code):
        assert secret not in said


def test_an_error_tells_no_secret(
    full: House, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("broken")

    monkeypatch.setattr("server.api.signing_in.checked", broken)
    answer = full.client(None).post("/api/sign-in", json={"name": "Robin", "password": PASSWORD})
    problem(answer, 500)
    assert "broken" in caplog.text
    assert PASSWORD not in caplog.text + answer.text
