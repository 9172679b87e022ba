"""The front end's files, served as they lie in `web/`, under a strict content policy."""

from __future__ import annotations

import gzip
from functools import lru_cache
from pathlib import Path
from typing import Final

from flask import Flask, Response, redirect, request, send_from_directory
from werkzeug.routing import PathConverter
from werkzeug.wrappers import Response as AnyResponse

WEB: Final = Path(__file__).resolve().parents[2] / "web"

CONTENT_POLICY: Final = (
    "default-src 'self'; img-src 'self' data: blob:; object-src 'none'; base-uri 'none'; "
    "form-action 'self'; frame-ancestors 'none'"
)
"""No inline code, no other host."""

PERMISSIONS: Final = ", ".join(
    [
        "geolocation=(self)",
        *(
            f"{feature}=()"
            for feature in (
                "accelerometer",
                "browsing-topics",
                "camera",
                "display-capture",
                "gyroscope",
                "magnetometer",
                "microphone",
                "midi",
                "payment",
                "usb",
            )
        ),
    ]
)
"""What a page may ask the device for (W3C Permissions Policy): its position, and nothing else."""

NO_CONTENT: Final = "default-src 'none'; frame-ancestors 'none'"
"""For everything that is no page, should a browser be made to show it as one."""

TYPES: Final = {
    ".js": "text/javascript",
    ".mjs": "text/javascript",
    ".css": "text/css",
    ".html": "text/html",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".woff2": "font/woff2",
}


PACKED: Final = frozenset({".js", ".css", ".html", ".json", ".webmanifest", ".svg"})
"""Files that go over the wire gzipped: the entire app in about a third of its bytes."""


@lru_cache(maxsize=512)
def _gzipped(path: Path, _changed_ns: int) -> bytes:
    return gzip.compress(path.read_bytes(), mtime=0)


def _pack(response: Response, path: Path) -> None:
    """Put the file's gzipped form into the answer. Its ETag becomes a weak one: it is the file's, in any encoding."""
    etag, _ = response.get_etag()
    response.response.close()  # type: ignore[union-attr]
    response.direct_passthrough = False
    response.set_data(_gzipped(path, path.stat().st_mtime_ns))
    response.headers["Content-Encoding"] = "gzip"
    if etag is not None:
        response.set_etag(etag, weak=True)


class FrontFile(PathConverter):
    """A path of the front end: what begins with api/ is the API's, so that a wrong method there is reported as such."""

    regex = "(?!api/)[^/].*?"


def add_pages(app: Flask) -> None:
    """Serve `web/` at the root."""

    @app.get("/")
    def front_page() -> Response:
        return _file("index.html")

    app.url_map.converters["front"] = FrontFile

    @app.get("/<front:name>")
    def front_file(name: str) -> Response:
        return _file(name)

    @app.get("/api")
    def description() -> AnyResponse:
        return redirect("/api/openapi.json")


def _file(name: str) -> Response:
    response: Response = send_from_directory(WEB, name, mimetype=TYPES.get(Path(name).suffix))
    if response.status_code == 200 and Path(name).suffix in PACKED:
        response.vary.add("Accept-Encoding")
        if request.accept_encodings.quality("gzip") > 0 and "Range" not in request.headers:
            _pack(response, WEB / name)
    response.headers["Content-Security-Policy"] = CONTENT_POLICY
    response.headers["Permissions-Policy"] = PERMISSIONS
    response.headers["Cache-Control"] = "no-cache"
    return response
