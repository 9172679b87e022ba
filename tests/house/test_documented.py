"""Every command, route and setting is documented where people look for it."""

from __future__ import annotations

import ast
import re
from pathlib import Path, PurePosixPath

import click
import pytest

from server import create_app
from server.__main__ import main
from server.files.shots_columns import IMPORT_COLUMNS
from server.records.schemas import SCHEMAS
from tests import longest_first, tiers

PROJECT = Path(__file__).resolve().parents[2]
ROOMS = ("server", "server/files", "web", "baselines", "demo_rounds", "tests")
GUIDES = [PROJECT / "README.md", PROJECT / "DEVELOPERS.md", *(PROJECT / room / "README.md" for room in ROOMS)]
TOP_LEVEL = {"server", "web", "baselines", "tests", "demo_rounds"}


@pytest.fixture(scope="module")
def words() -> str:
    """What the guides say: README.md, that of each room, DEVELOPERS.md."""
    return "\n".join(path.read_text(encoding="utf-8") for path in GUIDES)


def commands(group: click.Group, before: str = "") -> list[tuple[str, click.Command]]:
    """Every command with its full name."""
    found: list[tuple[str, click.Command]] = []
    for name, command in group.commands.items():
        if isinstance(command, click.Group):
            found += commands(command, f"{before}{name} ")
        else:
            found.append((f"{before}{name}", command))
    return found


def test_every_command_is_documented(words: str) -> None:
    missing = [name for name, _ in commands(main) if not re.search(rf"`{name}[` ]", words)]
    assert missing == []


def test_every_option_is_documented_by_the_command_itself() -> None:
    silent = [
        f"{name} {option.opts[0]}"
        for name, command in commands(main)
        for option in command.params
        if isinstance(option, click.Option) and not option.help and option.name not in ("host", "by")
    ]
    assert silent == []
    assert [name for name, command in commands(main) if not command.help] == []


def test_every_route_is_documented(words: str, tmp_path: Path) -> None:
    app = create_app({"DATABASE": f"sqlite:///{tmp_path / 'a.sqlite'}"})
    app.extensions["pencilbag_engine"].dispose()
    missing = []
    for rule in app.url_map.iter_rules():
        if not rule.rule.startswith("/api/"):
            continue
        pattern = re.sub(r"<[^>]*>", "@", rule.rule)
        said = re.escape(pattern).replace("@", r"[A-Z_<{][A-Za-z_:}>]*")
        if not re.search(said + r"(?![\w/])", words):
            missing.append(rule.rule)
    assert missing == []


def test_every_import_column_and_kind_of_record_is_documented(words: str) -> None:
    assert [name for name in (*IMPORT_COLUMNS, *SCHEMAS) if not re.search(rf"\b{name}\b", words)] == []


def test_every_setting_from_the_environment_is_documented(words: str) -> None:
    sources = [*(PROJECT / "server").rglob("*.py"), PROJECT / "server" / "run", PROJECT / "server" / "environment.sh"]
    found = {name for path in sources for name in re.findall(r"PENCILBAG_[A-Z]+", path.read_text(encoding="utf-8"))}
    assert "PENCILBAG_DATABASE" in found
    assert [name for name in sorted(found) if name not in words] == []


PATH = re.compile(r"`([\w./*-]+(?:\.(?:py|js|css|toml|json|html)|/))`")


def paths_of(row: str) -> list[str]:
    """The files and folders that a row of a table names in its last column; a bare name lies in the folder of the path
    before it."""
    found, folder = [], PurePosixPath()
    for name in PATH.findall(row.rsplit("|", 2)[1]):
        path = PurePosixPath(name) if name.split("/")[0] in TOP_LEVEL else folder / name
        folder = path if name.endswith("/") else path.parent
        found.append(str(path))
    return found


def test_where_to_change_what_names_what_is_there() -> None:
    """A guide that names files which moved sends people astray."""
    guide = (PROJECT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = guide.partition("## Where to change what")[2].partition("\n## ")[0]
    named = [path for row in table.splitlines() if row.startswith("| ") for path in paths_of(row)]
    assert len(named) > 60
    assert [path for path in named if not list(PROJECT.glob(path))] == []
    assert paths_of("| x | `server/store/log.py`, `nowhere.py` |") == ["server/store/log.py", "server/store/nowhere.py"]


@pytest.mark.parametrize("guide", GUIDES, ids=lambda path: path.relative_to(PROJECT).as_posix())
def test_links_between_the_guides_lead_somewhere(guide: Path) -> None:
    links = re.findall(r"\]\(([^)#:]+)\)", guide.read_text(encoding="utf-8"))
    assert [link for link in links if not (guide.parent / link).exists()] == []


def test_the_front_page_is_for_a_stranger() -> None:
    """Short, and every room's own guide is one step away."""
    text = (PROJECT / "README.md").read_text(encoding="utf-8")
    assert len(text.splitlines()) < 160
    assert [room for room in ROOMS if f"({room}/README.md)" not in text] == []


def test_the_slow_and_the_longest_tests_are_there_by_their_names() -> None:
    """A slow one that is renamed without it would come into the quick tier, one of the longest would begin late."""
    for name in sorted({*tiers.SLOW, *longest_first.LONGEST}):
        file, _, test = name.partition("::")
        assert re.search(rf"^ *def {test or 'test_'}", (PROJECT / file).read_text(encoding="utf-8"), re.MULTILINE), name


def test_each_process_begins_with_some_of_the_longest_tests_and_those_of_their_files() -> None:
    assert longest_first.spread([["a", "A"], ["b"], ["c"]], ["1", "2", "3", "4"], 2) == [
        "a",
        "A",
        "c",
        "1",
        "b",
        "2",
        "3",
        "4",
    ]
    shares = longest_first.spread([[*one] for one in "abcdefg"], [str(number) for number in range(93)], 4)
    assert sorted(shares) == sorted([*"abcdefg", *(str(number) for number in range(93))])
    assert [shares[share * 25] for share in range(4)] == list("abcd")
    assert longest_first.spread([["a", "b", "c"]], ["1", "2"], 4) == ["a", "b", "c", "1", "2"]


PROMISES = re.compile(r"\.then\(|\basync\b|\bawait\b|new Promise")


def waited_for(file: Path) -> list[str]:
    """The functions that a file of tests has a page wait for, as they are written."""
    calls = (node for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))) if isinstance(node, ast.Call))
    of_pages = (call for call in calls if isinstance(call.func, ast.Attribute) and call.args)
    return [ast.unparse(call.args[0]) for call in of_pages if ast.unparse(call.func).endswith("wait_for_function")]


def test_no_test_waits_for_a_function_that_promises() -> None:
    """Playwright's `wait_for_function` takes the promise itself for true and waits for nothing."""
    found = {file.name: waited_for(file) for file in (PROJECT / "tests").rglob("*.py")}
    assert sum(map(len, found.values())) > 40
    assert {name: one for name, ones in found.items() for one in ones if PROMISES.search(one)} == {}
    assert PROMISES.search("() => caches.keys().then((names) => names.length === 1)")
