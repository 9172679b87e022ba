"""The way through the house is one way: what each part of server/ may import, and where SQL stands."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

SERVER = Path(__file__).resolve().parents[2] / "server"
PARTS = ("commands", "api", "reports", "files", "questions", "operation", "store", "records", "analysis", "game")
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
    "server/files/demo.py": {"sqlalchemy"},
    "server/files/shots_import.py": {"sqlalchemy"},
    "server/files/shots_stream.py": {"sqlalchemy"},
    "server/reports/fitted_baseline.py": {"sqlalchemy.Connection"},
    "server/files/season_tables/seasons.py": {"sqlalchemy"},
    "server/files/season_tables/verifying.py": {"sqlalchemy.Connection"},
    "server/commands/datasets.py": {"sqlalchemy.Engine"},
    "server/questions/valued_shots.py": {"sqlalchemy"},
    "server/questions/kept_frames.py": {"sqlalchemy.Connection"},
    "server/questions/question.py": {"sqlalchemy.Connection"},
    "server/questions/squads.py": {"sqlalchemy.Connection"},
    "server/api/database.py": {"sqlalchemy.Engine"},
    "server/operation/metrics.py": {"sqlalchemy"},
    "server/api/hidden_positions.py": {"sqlalchemy.Connection"},
    "server/api/own_data.py": {"sqlalchemy.Engine"},
    "server/api/players.py": {"sqlalchemy.Connection"},
    "server/api/others.py": {"sqlalchemy.Connection"},
    "server/api/squad.py": {"sqlalchemy.Connection"},
    "server/commands/accounts.py": {"sqlalchemy.Engine"},
    "server/commands/plans.py": {"sqlalchemy.Connection"},
    "server/commands/squads.py": {"sqlalchemy.Connection"},
    "server/files/map_import.py": {"sqlalchemy"},
    "server/files/practice_import.py": {"sqlalchemy.Connection", "sqlalchemy.Engine"},
    "server/commands/__init__.py": {
        "sqlalchemy.Connection",
        "sqlalchemy.Engine",
        "sqlalchemy.exc.SQLAlchemyError",
    },
}
"""Connections and engines pass through as types; a command turns a database's error into one line."""

READS_FILES = {"server/analysis/expected_strokes/files.py"}
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


def test_nothing_imports_upward() -> None:
    permitted = {"commands": {"server.create_app"}, "api": {"server.VERSION"}, "files": {"server.VERSION"}}
    found = {}
    for path in (path for path in MODULES if path.parent != SERVER):
        part = path.relative_to(SERVER).parts[0]
        found[name_of(path)] = too_high(part, imported(tree_of(path))) - permitted.get(part, set())
    assert len(found) > 50
    assert {name: names for name, names in found.items() if names} == {}


def test_commands_know_the_web_application_by_its_factory_alone() -> None:
    commands = [path for path in MODULES if "commands" in path.parts]
    assert len(commands) > 5
    found = {name_of(path): {name for name in imported(tree_of(path)) if part_of(name) == "api"} for path in commands}
    assert {name: names for name, names in found.items() if names} == {}


def test_this_test_can_fail() -> None:
    tree = ast.parse("def f():\n    from server.store.log import push\nimport server.game.lies\n")
    assert too_high("analysis", imported(tree)) == {"server.store.log.push"}
    assert too_high("records", {"server.create_app"}) == {"server.create_app"}
    assert not too_high("questions", imported(tree))


def impure(path: Path) -> list[str]:
    """What a module of the core does that it may not."""
    tree = tree_of(path)
    barred = {*PURE_BARRED, "time", "random", "os", "socket"}
    found = sorted(name for name in imported(tree) if name.split(".")[0] in barred)
    attributes = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    found += sorted(attributes & CLOCKS)
    if name_of(path) not in READS_FILES:
        found += sorted(attributes & {"read_text", "read_bytes", "write_text", "write_bytes", "read_csv", "to_csv"})
        calls = (node.func for node in ast.walk(tree) if isinstance(node, ast.Call))
        found += [call.id for call in calls if isinstance(call, ast.Name) and call.id == "open"]
    return found


def test_the_core_is_pure() -> None:
    core = [path for path in MODULES if path.relative_to(SERVER).parts[0] in ("analysis", "game")]
    assert len(core) > 30
    assert {name_of(path): found for path in core if (found := impure(path))} == {}


def database_work(path: Path) -> list[str]:
    """What a module outside the store does with a database that only the store may."""
    tree = tree_of(path)
    drivers = ("sqlalchemy", "alembic", "sqlite3", "psycopg")
    names = {name for name in imported(tree) if name.split(".")[0] in drivers}
    found = sorted(names - SQL_NAMES_OUTSIDE.get(name_of(path), set()))
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            if node.func.attr in ("execute", "executemany", "exec_driver_sql", "scalars"):
                found.append(f"line {node.lineno}: {node.func.attr}")
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "sa":
            found += [] if node.attr in ("Connection", "Engine") else [f"sa.{node.attr}"]
    return found


def test_sql_is_in_the_store_alone() -> None:
    others = [path for path in MODULES if "store" not in path.parts]
    assert len(others) > 50
    assert {name_of(path): found for path in others if (found := database_work(path))} == {}


def test_the_checks_of_the_core_and_of_sql_can_fail(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(globals(), "name_of", lambda path: path.name)
    bad = tmp_path / "bad.py"
    bad.write_text("import time, flask\nimport sqlalchemy as sa\nopen('x')\nc.execute(sa.select(t))\ndate.today()\n")
    assert impure(bad) == ["flask", "sqlalchemy", "time", "today", "open"]
    assert database_work(bad) == ["sqlalchemy", "line 4: execute", "sa.select"]


def test_the_list_of_exceptions_is_as_short_as_can_be() -> None:
    for name, permitted in SQL_NAMES_OUTSIDE.items():
        assert permitted <= imported(tree_of(SERVER.parent / name)), name


def test_every_module_says_what_it_is() -> None:
    assert [name_of(path) for path in MODULES if not ast.get_docstring(tree_of(path))] == []
