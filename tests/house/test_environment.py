"""What the environment gives: server/README.md tells every setting and no other; serving imports what it installs."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
from importlib.metadata import packages_distributions
from pathlib import Path

from server.operation.settings import PREFIX, SETTINGS

ROOT = Path(__file__).parents[2]
BROUGHT_ALONG = {"werkzeug", "webargs", "limits", "jinja2", "apispec"}
"""Packages that those of server/requirements.txt depend on."""
DRAWING = {"matplotlib"}
"""Of server/requirements-plots.txt: imported when a picture is asked for."""
README = (ROOT / "server" / "README.md").read_text(encoding="utf-8")


def read_by_the_server() -> set[str]:
    """Every setting that the code names."""
    files = [path for path in (ROOT / "server").rglob("*") if path.suffix in (".py", ".sh") or path.name == "run"]
    return {name for path in files for name in re.findall(r"PENCILBAG_[A-Z_]*[A-Z]", path.read_text(encoding="utf-8"))}


def test_the_table_holds_every_setting_and_no_other() -> None:
    listed = re.findall(r"^\| `(PENCILBAG_[A-Z_]+)` \| \S.+\|$", README, flags=re.MULTILINE)
    assert len(listed) == len(set(listed))
    assert set(listed) == {f"{PREFIX}{name}" for name in SETTINGS}
    assert read_by_the_server() <= set(listed)
    assert set(listed) >= {"PENCILBAG_DATABASE", "PENCILBAG_BUSY_WAIT_S", "PENCILBAG_SECRET"}


def imported(path: Path) -> set[str]:
    """The packages that a module imports."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module.split(".")[0])
    return found - sys.stdlib_module_names - {"server", "demo_rounds"}


def test_serving_imports_only_what_it_installs() -> None:
    """`server/run` installs server/requirements.txt alone; what those packages bring along themselves counts too. What
    draws `--plot` is asked for apart, below."""
    pins = re.findall(
        r"^([A-Za-z0-9_-]+)", (ROOT / "server" / "requirements.txt").read_text("utf-8"), flags=re.MULTILINE
    )
    installed = {name.lower().replace("_", "-") for name in pins} | BROUGHT_ALONG
    known = packages_distributions()
    sources = [*(ROOT / "server").rglob("*.py"), *(ROOT / "demo_rounds").rglob("*.py")]
    wanted = set().union(*map(imported, sources)) - DRAWING
    assert {"pandas", "flask"} <= wanted
    missing = {
        name for name in wanted if not {one.lower().replace("_", "-") for one in known.get(name, [])} & installed
    }
    assert missing == set()


def test_what_draws_pictures_is_named_in_one_module_and_loaded_by_none() -> None:
    naming = {path.name for path in (ROOT / "server").rglob("*.py") if imported(path) & DRAWING}
    assert naming == {"plots.py"}
    code = (
        "import sys, server.commands.summaries, server.commands.squads, server.commands.evidence; print(*sys.modules)"
    )
    loaded = subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True, capture_output=True, text=True).stdout
    assert "server.commands.plots" in loaded.split()
    assert not DRAWING & set(loaded.split())


def test_summary_loads_neither_what_fits_models_nor_what_serves() -> None:
    code = "import gc, sys; from server.__main__ import COMMANDS; COMMANDS['summary']; "
    code += "print(gc.get_freeze_count(), *sys.modules)"
    frozen, *loaded = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, check=True, capture_output=True, text=True
    ).stdout.split()
    assert "scipy.special" in loaded
    assert not {"flask", "werkzeug", "alembic", "scipy.optimize", "scipy.stats", "shapely", "openpyxl", "tqdm"} & set(
        loaded
    )
    assert int(frozen) > 100_000  # what was imported, which the collector of garbage need not walk through again


def test_a_command_works_on_small_matrices_in_one_thread_unless_it_is_told_otherwise() -> None:
    """By the threads of a process once numpy has loaded its OpenBLAS (Linux)."""
    code = (
        "import os, re; import server; import numpy;"
        "print(os.environ['OPENBLAS_NUM_THREADS'], re.search(r'Threads:\\s(.*)', open('/proc/self/status').read())[1])"
    )
    environment = {name: value for name, value in os.environ.items() if not name.endswith("_NUM_THREADS")}
    found = []
    for given in ({}, {"OPENBLAS_NUM_THREADS": "2"}):
        done = subprocess.run(
            [sys.executable, "-c", code], cwd=ROOT, env=environment | given, check=True, capture_output=True, text=True
        )
        found.append(done.stdout.split())
    assert found[0] == ["1", "1"]
    assert found[1] == ["2", str(min(2, os.cpu_count() or 1))]


def test_the_tests_draw_with_the_pinned_version() -> None:
    pins = (ROOT / "server" / "requirements-plots.txt").read_text(encoding="utf-8").splitlines()
    pinned = [line for line in pins if line and not line.startswith("#")]
    assert {re.split("==", line)[0] for line in pinned} == DRAWING
    tests = (ROOT / "tests" / "requirements.txt").read_text(encoding="utf-8").splitlines()
    assert "-r ../server/requirements-plots.txt" in tests
