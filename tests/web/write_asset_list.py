"""Writes `web/worker/assets.js`, the files of one version of the app, each with its digest, and the links in index.html
that name the first modules ahead.

`python -m tests.web.write_asset_list` after any change in `web/`; a test compares the list with the disk.
"""

from __future__ import annotations

import hashlib
import json
import posixpath
import re
from pathlib import Path, PurePosixPath
from typing import Final

WEB: Final = Path(__file__).resolve().parents[2] / "web"
LIST: Final = WEB / "worker" / "assets.js"
STATIC_IMPORT: Final = re.compile(r"^import (?:.*? from )?'(\.[^']+)';$", re.MULTILINE)
PRELOADS: Final = re.compile(r'<link rel="modulepreload"[^>]*>\n')
FOLDERS: Final = ("css", "js", "icons")
NOT_NEEDED_OFFLINE: Final = (
    "icons/icon-512.png",
    "icons/maskable-512.png",
    "icons/apple-touch-icon.png",
)
"""Icons that the browser fetches when the app is installed."""


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


def listing(web: Path = WEB) -> str:
    """The text of the list."""
    digests = {path: hashlib.sha256(content).hexdigest() for path, content in files(web).items()}
    worker = (web / "worker" / "events.js").read_bytes()
    version = hashlib.sha256(json.dumps(digests, sort_keys=True).encode() + worker).hexdigest()[:12]
    lines = "\n".join(f"    '{path}': '{digest}'," for path, digest in digests.items())
    return (
        "/* The files of this version, each with its SHA-256. Made by `python -m tests.web.write_asset_list`. */\n"
        f"const ASSETS = {{\n  version: '{version}',\n  files: {{\n{lines}\n  }},\n}};\n"
    )


def first_modules(web: Path = WEB) -> list[str]:
    """The modules that the page needs before its first screen: what app.js imports, and what that imports."""
    found, todo = [], ["/js/app.js"]
    while todo:
        path = todo.pop(0)
        if path in found:
            continue
        found.append(path)
        folder = PurePosixPath(path).parent
        for name in STATIC_IMPORT.findall((web / path.lstrip("/")).read_text()):
            todo.append(posixpath.normpath(str(folder / name)))
    return found


def front_page(web: Path = WEB) -> str:
    """index.html with its modules named ahead, so that they come at once and not one after another."""
    links = "".join(f'<link rel="modulepreload" href="{path}">\n' for path in first_modules(web))
    html = PRELOADS.sub("", (web / "index.html").read_text())
    return html.replace('<script type="module"', f'{links}<script type="module"', 1)


if __name__ == "__main__":
    WEB.joinpath("index.html").write_text(front_page())
    LIST.write_text(listing())
    print(f"{LIST}: {len(files())} files, {sum(map(len, files().values()))} bytes")
