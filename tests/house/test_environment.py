"""README.md has a table of every setting that the environment may give, and of no other."""

from __future__ import annotations

import re
from pathlib import Path

from server.api.app import _SETTINGS

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
OWN = {name for name in _SETTINGS if not name.startswith(("API_", "OPENAPI_"))} - {
    "MAX_CONTENT_LENGTH",
    "PROPAGATE_EXCEPTIONS",
}
"""Settings of ours; the others are fixed values of the libraries."""


def read_by_the_server() -> set[str]:
    """Every setting that the code names."""
    files = [path for path in (ROOT / "server").rglob("*") if path.suffix in (".py", ".sh") or path.name == "run"]
    return {name for path in files for name in re.findall(r"PENCILBAG_[A-Z_]*[A-Z]", path.read_text(encoding="utf-8"))}


def test_the_table_holds_every_setting_and_no_other() -> None:
    listed = re.findall(r"^\| `(PENCILBAG_[A-Z_]+)` \| \S.+\|$", README, flags=re.MULTILINE)
    assert len(listed) == len(set(listed))
    assert set(listed) == read_by_the_server() | {f"PENCILBAG_{name}" for name in OWN}
    assert set(listed) >= {"PENCILBAG_DATABASE", "PENCILBAG_BUSY_WAIT_S", "PENCILBAG_SECRET"}
