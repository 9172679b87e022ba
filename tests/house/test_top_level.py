"""The top level of the project holds what a newcomer needs and nothing else; whatever is tracked is meant to be."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
ALLOWED = {"README.md", "DEVELOPERS.md", "requirements.txt", "server", "web", "baselines", "tests", "demo_rounds"}
FILES_NEEDED = {
    "README.md",
    "DEVELOPERS.md",
    "requirements.txt",
    ".gitignore",
    ".ruff.toml",
    ".mypy.ini",
    ".pytest.ini",
}
RUNS = ("server/run", "tests/run", ".ci/run")


def tracked() -> list[str]:
    """Paths that git knows of."""
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=PROJECT, check=True, capture_output=True, text=True)
    return [name for name in listed.stdout.split("\0") if name]


def test_only_the_allowed_names_stand_at_the_top() -> None:
    top = {name.split("/")[0] for name in tracked()}
    assert {name for name in top if not name.startswith(".")} <= ALLOWED


def test_what_a_newcomer_needs_is_there() -> None:
    assert {name for name in FILES_NEEDED if not (PROJECT / name).is_file()} == set()
    assert {name for name in ALLOWED if not (PROJECT / name).exists()} == set()
    for name in RUNS:
        assert (PROJECT / name).stat().st_mode & 0o111, f"{name} can be run"


def test_nothing_made_by_a_run_is_tracked() -> None:
    made = re.compile(
        r"(^|/)(\.venv|instance|__pycache__|\.hypothesis|\.pytest_cache|\.mypy_cache|\.ruff_cache)/|\.pyc$"
    )
    assert [name for name in tracked() if made.search(name)] == []


def test_direct_dependencies_are_pinned_exactly() -> None:
    both = ["server/requirements.txt", "tests/requirements.txt"]
    optional = [f"server/{path.name}" for path in (PROJECT / "server").glob("requirements-*.txt")]
    assert len(optional) == 2
    everything = (PROJECT / "requirements.txt").read_text(encoding="utf-8").splitlines()
    assert [line for line in everything if not line.startswith("#")] == [f"-r {name}" for name in both]
    texts = [(PROJECT / name).read_text(encoding="utf-8") for name in both + optional]
    lines = [line for text in texts for line in text.splitlines()]
    assert [line for line in lines if line.startswith("-r ")] == [f"-r ../{name}" for name in sorted(optional)]
    pins = [line for line in lines if line and not line.startswith(("#", "-r "))]
    assert len(pins) > 10
    assert [line for line in pins if not re.fullmatch(r"[A-Za-z0-9._-]+(\[[a-z]+\])?==[0-9][0-9a-z.]*", line)] == []


def test_the_licence_is_stated() -> None:
    assert re.search(r"\bMIT\b", (PROJECT / "README.md").read_text(encoding="utf-8"))


def test_test_files_have_names_of_their_own() -> None:
    names = [path.name for path in (PROJECT / "tests").rglob("test_*.py")]
    assert len(names) == len(set(names))
