"""Writes `web/worker/assets.js`: the files of one version of the app, each with its digest.

`python -m tests.web.write_asset_list` after any change in `web/`; a test compares the list with the disk.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Final

WEB: Final = Path(__file__).resolve().parents[2] / "web"
LIST: Final = WEB / "worker" / "assets.js"
FOLDERS: Final = ("css", "js", "icons")
NOT_NEEDED_OFFLINE: Final = (
    "icons/icon-512.png",
    "icons/maskable-512.png",
    "icons/apple-touch-icon.png",
    "js/evidence/",
    "css/evidence",
)
"""Icons that the browser fetches when the app is installed; pages that ask the server for everything."""


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


if __name__ == "__main__":
    LIST.write_text(listing())
    print(f"{LIST}: {len(files())} files, {sum(map(len, files().values()))} bytes")
