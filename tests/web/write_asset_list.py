"""Writes `web/worker/assets.js`, the files of one version of the app, each with its digest, and the links in index.html
that name the first modules ahead.

`python -m tests.web.write_asset_list` after any change in `web/`; a test compares the list with the disk.
"""

from __future__ import annotations

import hashlib
import json
import posixpath
import re
from collections.abc import Collection
from pathlib import Path, PurePosixPath
from typing import Final

WEB: Final = Path(__file__).resolve().parents[2] / "web"
LIST: Final = WEB / "worker" / "assets.js"
AFTERWARDS: Final = frozenset(
    {
        "/js/views/keeping.js",
        "/js/views/screen.js",
        "/js/game/geodesy.js",
        "/js/ui/help.js",
        "/js/ui/shortcuts.js",
        "/js/game/positions.js",
        "/js/game/walked-map.js",
        "/js/screens/account.js",
        "/js/screens/caddie.js",
        "/js/screens/caddies.js",
        "/js/screens/course-maps.js",
        "/js/screens/finish-offer.js",
        "/js/screens/hole-map.js",
        "/js/screens/hole-walk.js",
        "/js/screens/import.js",
        "/js/screens/invitation.js",
        "/js/screens/notes-screen.js",
        "/js/screens/play-marking.js",
        "/js/screens/practice.js",
        "/js/screens/practice-review.js",
        "/js/screens/sharing.js",
        "/js/screens/sign-in.js",
        "/js/screens/this-phone.js",
        "/js/screens/tokens.js",
        "/js/screens/versions.js",
        "/js/screens/whose-phone.js",
    }
)
"""Screens that no round needs: they, and what only they import, are kept after the first load."""

SHEETS_AFTERWARDS: Final = frozenset({"/css/evidence.css", "/css/holes.css", "/css/practice.css"})
LETTERS_AFTERWARDS: Final = frozenset({"/fonts/letters.woff2", "/fonts/figures-italic.woff2"})
"""The letters of the headings: `js/look.js` shows them once the app is kept."""
ANY_IMPORT: Final = re.compile(r"^(?!\s*/?\*).*?\b(?:from |import |import\()'(\.[^']+)'", re.MULTILINE)
STATIC_IMPORT: Final = re.compile(r"^import (?:[^;']*? from )?'(\.[^']+)';$", re.MULTILINE)
SCRIPT: Final = re.compile(r'<script src="([^"]+)">')
"""What runs before anything is painted."""
PRELOADS: Final = re.compile(r'<link rel="modulepreload"[^>]*>\n')
WORKER_FILES: Final = ("/sw.js", "/worker/assets.js", "/worker/events.js")
FOLDERS: Final = ("css", "js", "icons", "fonts")
NOT_NEEDED_OFFLINE: Final = (
    "icons/icon-192.png",
    "icons/icon-512.png",
    "icons/maskable-512.png",
    "icons/apple-touch-icon.png",
    "fonts/LICENCE.txt",
)
"""Icons that the browser fetches when the app is installed, and the licence of the letters."""


def files(web: Path = WEB) -> dict[str, bytes]:
    """The files of the app by the path that a page asks for."""
    found = {
        "/": (web / "index.html").read_bytes(),
        "/manifest.webmanifest": (web / "manifest.webmanifest").read_bytes(),
    }
    for folder in FOLDERS:
        for path in sorted((web / folder).rglob("*")):
            name = path.relative_to(web).as_posix()
            if path.is_file() and not name.startswith(NOT_NEEDED_OFFLINE):
                found[f"/{name}"] = path.read_bytes()
    return found


def first_files(web: Path = WEB) -> set[str]:
    """What a round needs, from the sign-up to the review: kept by the first load."""
    modules = {*reached(ANY_IMPORT, AFTERWARDS, web), *SCRIPT.findall((web / "index.html").read_text())}
    return (
        {path for path in files(web) if path in modules or not path.endswith(".js")}
        - SHEETS_AFTERWARDS
        - LETTERS_AFTERWARDS
    )


def listing(web: Path = WEB) -> str:
    """The text of the list."""
    digests = {path: hashlib.sha256(content).hexdigest() for path, content in files(web).items()}
    worker = (web / "worker" / "events.js").read_bytes()
    version = hashlib.sha256(json.dumps(digests, sort_keys=True).encode() + worker).hexdigest()[:12]
    first = first_files(web)
    groups = {"first": first, "afterwards": digests.keys() - first}
    lines = [f"  version: '{version}',"]
    for name, group in groups.items():
        lines += [f"  {name}: {{", *(f"    '{path}': '{digests[path]}'," for path in digests if path in group), "  },"]
    return "\n".join(
        [
            "/* The files of this version, each with its SHA-256. Made by `python -m tests.web.write_asset_list`. */",
            "const ASSETS = {",
            *lines,
            "};",
            "",
        ]
    )


def reached(imports: re.Pattern[str], without: Collection[str] = (), web: Path = WEB) -> list[str]:
    """The modules that app.js imports, and what those import, but for some and what only they import."""
    found: list[str] = []
    todo = ["/js/app.js"]
    while todo:
        path = todo.pop(0)
        if path in found or path in without:
            continue
        found.append(path)
        folder = PurePosixPath(path).parent
        for name in imports.findall((web / path.lstrip("/")).read_text()):
            todo.append(posixpath.normpath(str(folder / name)))
    return found


def first_modules(web: Path = WEB) -> list[str]:
    """The modules that the page needs before its first screen."""
    return reached(STATIC_IMPORT, web=web)


def front_page(web: Path = WEB) -> str:
    """index.html with its modules named ahead, so that they come at once and not one after another."""
    links = "".join(f'<link rel="modulepreload" href="{path}">\n' for path in first_modules(web))
    html = PRELOADS.sub("", (web / "index.html").read_text())
    return html.replace('<script type="module"', f'{links}<script type="module"', 1)


if __name__ == "__main__":
    WEB.joinpath("index.html").write_text(front_page())
    LIST.write_text(listing())
    sizes = {path: len(content) for path, content in files().items()}
    first = sum(sizes[path] for path in first_files())
    print(f"{LIST}: {len(sizes)} files, {sum(sizes.values())} bytes, {first} of them first")
