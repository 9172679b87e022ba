"""The front end's files: packed for whoever takes it, the same bytes for everybody, and once only."""

from __future__ import annotations

import gzip

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from server.api.pages import WEB

PACK = {"Accept_Encoding": "gzip"}
NAMES = ("js/app.js", "css/paper.css", "manifest.webmanifest")


def fetched(client: FlaskClient, name: str, **headers: str) -> TestResponse:
    """The answer, read to its end and closed."""
    with client.get(name, headers={key.replace("_", "-"): value for key, value in headers.items()}) as answer:
        answer.get_data()
    return answer


@pytest.mark.parametrize("name", NAMES)
def test_a_packed_file_is_the_file(client: FlaskClient, name: str) -> None:
    plain, packed = fetched(client, f"/{name}"), fetched(client, f"/{name}", **PACK)
    assert "Content-Encoding" not in plain.headers
    assert packed.headers["Content-Encoding"] == "gzip"
    assert plain.data == gzip.decompress(packed.data) == (WEB / name).read_bytes()
    assert len(packed.data) < len(plain.data)
    assert "Accept-Encoding" in packed.headers["Vary"]
    assert plain.headers["Content-Security-Policy"] == packed.headers["Content-Security-Policy"]


def test_a_page_may_ask_for_the_position_and_for_nothing_else_of_the_device(client: FlaskClient) -> None:
    """W3C Permissions Policy."""
    features = dict(one.split("=") for one in fetched(client, "/").headers["Permissions-Policy"].split(", "))
    assert features.pop("geolocation") == "(self)"
    assert {"camera", "microphone", "payment", "usb"} <= features.keys()
    assert set(features.values()) == {"()"}


def test_an_unchanged_file_is_not_sent_again(client: FlaskClient) -> None:
    first = fetched(client, "/js/app.js", **PACK)
    again = fetched(client, "/js/app.js", **PACK, If_None_Match=first.headers["ETag"])
    assert (again.status_code, again.data) == (304, b"")


def test_pictures_are_sent_as_they_are(client: FlaskClient) -> None:
    assert "Content-Encoding" not in fetched(client, "/icons/icon-192.png", **PACK).headers
