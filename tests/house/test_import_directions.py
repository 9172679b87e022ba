"""The way through the house is one way: what each part of server/ may import, and where SQL stands."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

SERVER = Path(__file__).resolve().parents[2] / "server"
PARTS = ("commands", "api", "questions", "season", "operation", "store", "records", "analysis", "game")
"""Top to bottom: a part imports only itself and parts below it."""

MODULES = sorted(SERVER.rglob("*.py"))

SIDEWAYS = {("commands", "api")}
"""The command `serve` starts the web application through `server.create_app` alone."""

PURE_BARRED = (
    "flask",
    "flask_smorest",
    "sqlalchemy",
    "alembic",
    "marshmallow",
    "waitress",
    "click",
    "webargs",
    "requests",
)
CLOCKS = {"time", "now", "utcnow", "today", "monotonic", "perf_counter"}
SQL_NAMES_OUTSIDE = {
    "server/questions/competition_lock.py": {"sqlalchemy.Connection"},
    "server/season/demo.py": {"sqlalchemy"},
    "server/season/importing.py": {"sqlalchemy"},
    "server/season/fitting.py": {"sqlalchemy.Connection"},
    "server/season/tables/seasons.py": {"sqlalchemy"},
    "server/season/valued.py": {"sqlalchemy"},
    "server/api/database.py": {"sqlalchemy.Engine"},
    "server/operation/metrics.py": {"sqlalchemy"},
    "server/api/kept.py": {"sqlalchemy.Connection"},
    "server/api/own_data.py": {"sqlalchemy.Engine"},
    "server/api/players.py": {"sqlalchemy.Connection"},
    "server/api/squad.py": {"sqlalchemy.Connection"},
    "server/api/plans.py": {"sqlalchemy.Connection"},
    "server/commands/accounts.py": {"sqlalchemy.Engine"},
    "server/commands/plans.py": {"sqlalchemy.Connection"},
    "server/season/map_import.py": {"sqlalchemy"},
    "server/commands/__init__.py": {
        "sqlalchemy.Connection",
        "sqlalchemy.Engine",
        "sqlalchemy.exc.SQLAlchemyError",
        "alembic.util.CommandError",
    },
}
"""Connections and engines pass through as types; a command turns a database's error into one line."""

READS_FILES = {"server/analysis/baseline_files.py"}
"""Analysis works on frames; baselines are the one thing that it reads from disk."""


def name_of(path: Path) -> str:
    return path.relative_to(SERVER.parent).as_posix()


def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def imported(tree: ast.AST) -> set[str]:
    """Every name that is imported anywhere in a module, dotted in full."""
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are absolute, so that this test can read them"
            names |= {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def part_of(dotted: str) -> str | None:
    """The part of server/ that an imported name lies in; "server" for the package itself."""
    steps = dotted.split(".")
    if steps[0] != "server":
        return None
    return steps[1] if len(steps) > 1 and steps[1] in PARTS else "server"


def too_high(part: str, names: set[str]) -> set[str]:
    """Of the names that a module of `part` imports, the ones that lie above it or at the very top."""
    allowed = set(PARTS[PARTS.index(part) :])
    return {name for name in names if (found := part_of(name)) is not None and found not in allowed}


def test_every_folder_of_the_server_is_a_part() -> None:
    folders = {path.name for path in SERVER.iterdir() if path.is_dir() and path.name != "__pycache__"}
    assert folders == set(PARTS)
    assert len(MODULES) > 50


@pytest.mark.parametrize("path", [path for path in MODULES if path.parent != SERVER], ids=name_of)
def test_nothing_imports_upward(path: Path) -> None:
    part = path.relative_to(SERVER).parts[0]
    found = too_high(part, imported(tree_of(path)))
    permitted = {"commands": {"server.create_app"}, "api": {"server.VERSION"}, "season": {"server.VERSION"}}.get(
        part, set()
    )
    assert found <= permitted


@pytest.mark.parametrize("path", [path for path in MODULES if "commands" in path.parts], ids=name_of)
def test_commands_know_the_web_application_by_its_factory_alone(path: Path) -> None:
    assert not {name for name in imported(tree_of(path)) if part_of(name) == "api"}


def test_this_test_can_fail() -> None:
    tree = ast.parse("def f():\n    from server.store.log import push\nimport server.game.lies\n")
    assert too_high("analysis", imported(tree)) == {"server.store.log.push"}
    assert too_high("records", {"server.create_app"}) == {"server.create_app"}
    assert not too_high("season", imported(tree))


@pytest.mark.parametrize("path", [path for path in MODULES if path.parent.name in ("analysis", "game")], ids=name_of)
def test_the_core_is_pure(path: Path) -> None:
    tree = tree_of(path)
    for name in imported(tree):
        assert name.split(".")[0] not in PURE_BARRED, name
        assert name.split(".")[0] not in ("time", "random", "os", "socket"), name
    attributes = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    assert not attributes & CLOCKS
    if name_of(path) not in READS_FILES:
        assert not attributes & {"read_text", "read_bytes", "write_text", "write_bytes", "read_csv", "to_csv"}
        calls = {
            node.func.id for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        }
        assert "open" not in calls


@pytest.mark.parametrize("path", [path for path in MODULES if "store" not in path.parts], ids=name_of)
def test_sql_stands_in_the_store_alone(path: Path) -> None:
    tree = tree_of(path)
    database = {
        name for name in imported(tree) if name.split(".")[0] in ("sqlalchemy", "alembic", "sqlite3", "psycopg")
    }
    assert database <= SQL_NAMES_OUTSIDE.get(name_of(path), set())
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            assert node.func.attr not in ("execute", "executemany", "exec_driver_sql", "scalars"), node.lineno
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "sa":
            assert node.attr in ("Connection", "Engine"), f"sa.{node.attr}"


def test_the_list_of_exceptions_is_as_short_as_can_be() -> None:
    for name, permitted in SQL_NAMES_OUTSIDE.items():
        assert permitted <= imported(tree_of(SERVER.parent / name)), name


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_modules_and_functions_stay_small_and_say_what_they_are(path: Path) -> None:
    source = path.read_text(encoding="utf-8")
    tree = ast.parse(source)
    assert ast.get_docstring(tree)
    if "migrations" in path.parts:
        return
    assert len(source.splitlines()) <= 300
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            first = node.body[0]
            has_text = isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant)
            start = node.body[1].lineno if has_text and len(node.body) > 1 else node.lineno
            assert (node.end_lineno or 0) - start < 50, f"{node.name} is too long"
