"""Every way in while a competition round is open: each route, command, table and format, read off the registries
themselves. One that is new and stands in neither list fails here, so that whoever adds it says which it is."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result

from server.__main__ import main
from server.api.attempts import limiter
from server.api.permissions import READING
from server.files.season_tables.dictionary import tables
from server.files.season_tables.writing import MEDIA_TYPES
from server.questions.competition_lock import LOCK
from server.questions.own_baselines import own_ids
from server.store.engine import reading
from server.store.log import push
from server.store.players import rounds
from server.store.sharing import write_note
from tests.api.asked_routes import ALLOWED, CADDYING, ROUTES, Asked
from tests.api.asking import problem
from tests.api.people import House, house
from tests.records.made import default_clubs, par_four

SECRET_WORDS = "swings well, aim left"

LOCKED_ROUTES = {
    ("evidence.StrokesGained", "GET"),
    ("evidence.TwoSpans", "GET"),
    ("evidence.Level", "GET"),
    ("evidence.Scores", "GET"),
    ("evidence.TrialOfTwo", "GET"),
    ("others.Against", "GET"),
    ("others.Pair", "GET"),
    ("others.PlayerHoles", "GET"),
    ("putting.Putting", "GET"),
    ("putting.PartSwings", "GET"),
    ("priorities.Priorities", "GET"),
    ("practice.AgainstCourse", "GET"),
    ("practice.Targets", "GET"),
    ("plans.Patterns", "GET"),
    ("plans.Strikes", "GET"),
    ("plans.Distances", "GET"),
    ("plans.TeePlan", "GET"),
    ("plans.TeePlan", "POST"),
    ("course_bags.CourseBag", "GET"),
    ("plans.Plannable", "GET"),
    ("rounds_ahead.RoundAhead", "GET"),
    ("rounds_ahead.RoundsChecked", "GET"),
    ("season.SeasonTable", "GET"),
    ("sharing.Notes", "GET"),
    ("sharing.Notes", "POST"),
}
"""Answered 423."""

OPEN_ROUTES = {
    ("front_page", "GET"),
    ("front_file", "GET"),
    ("description", "GET"),
    ("api-docs.openapi_json", "GET"),
    ("operation.Health", "GET"),
    ("operation.Ready", "GET"),
    ("operation.Metrics", "GET"),
    ("baselines.Baselines", "GET"),
    ("baselines.OneBaseline", "GET"),
    ("signing_in.Me", "GET"),
    ("signing_in.SignIn", "POST"),
    ("signing_in.Join", "POST"),
    ("signing_in.SignOut", "POST"),
    ("accounts.Password", "POST"),
    ("accounts.JoinCode", "POST"),
    ("accounts.Tokens", "GET"),
    ("accounts.Tokens", "POST"),
    ("accounts.OneToken", "DELETE"),
    ("accounts.Sessions", "GET"),
    ("accounts.OneSession", "DELETE"),
    ("players.Players", "GET"),
    ("players.OnePlayer", "GET"),
    ("players.Rounds", "GET"),
    ("players.Scorecard", "GET"),
    ("players.Record", "GET"),
    ("practice.Sessions", "GET"),
    ("practice.OneSession", "GET"),
    ("season.SeasonPackage", "GET"),
    ("changes.Changes", "GET"),
    ("changes.Changes", "POST"),
    ("changes.Quarantine", "GET"),
    ("others.Ranks", "GET"),
    ("others.SquadHoles", "GET"),
    ("squad.Squad", "GET"),
    ("squad.Choices", "GET"),
    ("plans.HoleMaps", "GET"),
    ("plans.HoleMaps", "POST"),
    ("sharing.Shares", "GET"),
    ("sharing.Shares", "POST"),
    ("sharing.OneShare", "DELETE"),
    ("sharing.OneNote", "DELETE"),
    ("invitations.Invitations", "GET"),
    ("invitations.Invitations", "POST"),
    ("invitations.OneInvitation", "DELETE"),
    ("invitations.Accepting", "POST"),
    ("caddies.Caddies", "GET"),
    ("caddies.RoundCaddies", "POST"),
    ("caddies.OneCaddie", "DELETE"),
    ("caddying.TakingUp", "POST"),
    ("caddying.Caddying", "GET"),
    ("caddying.Caddying", "DELETE"),
    ("caddying.RoundChanges", "GET"),
    ("caddying.RoundChanges", "POST"),
    ("importing.Import", "POST"),
    ("importing.ImportPractice", "POST"),
    ("own_data.Everything", "GET"),
    ("own_data.Erasure", "POST"),
}
"""Answered as ever, without a figure of strokes gained and without a note."""

LOCKED_TABLES = {"shots", "holes", "rounds", "club_summary", "category_summary", "course_effects"}
LOCKED_TABLES |= {"squad_ranks", "hole_effects"}
OPEN_TABLES = {"clubs", "setups", "practice_sessions", "practice_balls", "players", "courses"}

LOCKED_COMMANDS: dict[str, list[str]] = {
    "summary": ["--player", "{player}"],
    "trial": ["--player", "{player}", "--a", "driver", "--b", "8 iron"],
    "level": ["--player", "{player}"],
    "against": ["--player", "{player}"],
    "holes": ["--player", "{player}"],
    "patterns": ["--player", "{player}"],
    "strikes": ["--player", "{player}"],
    "distances": ["--player", "{player}"],
    "putting": ["--player", "{player}"],
    "part-swings": ["--player", "{player}"],
    "priorities": ["--player", "{player}"],
    "practice": ["--player", "{player}"],
    "practice-targets": ["--player", "{player}"],
    "plan": ["--player", "{player}", "--hole", "1"],
    "course-bag": ["--player", "{player}", "--hole", "1"],
    "round-ahead": ["--player", "{player}"],
    "export": ["--player", "{player}", "--season", "2026", "--to", "{folder}"],
    "baseline fit": ["--from", "{player}"],
}
"""Refused with exit code 2 and the reason; with what is asked of one player."""

OPEN_COMMANDS: dict[str, list[str] | str] = {
    "serve": "starts the web service, whose routes are walked here",
    "demo": "stores the invented season",
    "restore": "replaces the whole database and tells nothing of it",
    "import": "stores shots and counts them",
    "import-practice": "stores practice balls and counts them",
    "map import": "stores maps",
    "map export": ["--player", "{player}", "{folder}.geojson"],
    "verify": "is refused while a player of the package is locked, tried in tests/files/test_verifying.py",
    "dictionary": [],
    "baseline list": [],
    "baseline show": ["tour"],
    "baseline check": "reads a file of expected strokes",
    "backup": ["{folder}.sqlite"],
    "migrate": ["--check"],
    "partition-log": "writes the log anew, and is refused where it lies in SQLite",
    "check": [],
    "account list": [],
    "account squads": "says which squads an account reads",
    "account add": "makes an account",
    "account password": "sets a password",
    "account end": "ends an account",
    "account join": "makes a code for another phone",
    "token add": "makes a token",
    "token list": "lists tokens",
    "token end": "ends a token",
    "squad": "leaves out a player who is locked, tried in tests/cli/test_cli_squad.py",
    "pair": "is of two players, refused while one of them is locked, tried in tests/cli/test_cli_others.py",
}
"""Nothing of a player's strokes gained or plans; with arguments, or why it is not run here."""


@pytest.fixture(scope="module")
def playing(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """Robin, whom Ash and Sage read, is in a competition; Sam is not."""
    made = house(f"sqlite:///{tmp_path_factory.mktemp('playing') / 'log.sqlite'}")
    write_note(made.engine, made.robin.player_id, made.accounts["Ash"], "club", "driver", SECRET_WORDS)
    before = len(made.robin.changes)
    today = made.robin.round("today", played_on="2026-06-01", kind="competition")
    par_four(made.robin, today, default_clubs(made.robin))
    clubs = {change["record_id"] for change in made.robin.changes[:before]}
    fresh = [change for change in made.robin.changes[before:] if change["record_id"] not in clubs]
    assert push(made.engine, made.robin.player_id, "phone", fresh).quarantined == []
    yield made
    made.engine.dispose()


@pytest.fixture
def valued(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many shots were valued, each time that any were."""
    import server.questions.valued_shots as module

    counts: list[int] = []
    attribute = module.attribute

    def counting(shots: Any, *more: Any) -> Any:
        counts.append(len(shots))
        return attribute(shots, *more)

    monkeypatch.setattr(module, "attribute", counting)
    return counts


def routes(full: House) -> set[tuple[str, str]]:
    """Every route with its methods, as the application knows them."""
    return {
        (rule.endpoint, method)
        for rule in full.app.url_map.iter_rules()
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
    }


def commands(group: click.Group, before: str = "") -> dict[str, click.Command]:
    """Every command with its full name, as the command line knows them."""
    found: dict[str, click.Command] = {}
    for name, command in group.commands.items():
        found |= commands(command, f"{before}{name} ") if isinstance(command, click.Group) else {before + name: command}
    return found


def test_every_way_in_says_whether_it_is_locked(playing: House) -> None:
    assert routes(playing) == LOCKED_ROUTES | OPEN_ROUTES
    assert not LOCKED_ROUTES & OPEN_ROUTES
    assert set(tables()) == LOCKED_TABLES | OPEN_TABLES
    assert {name for name, table in tables().items() if table.holds_strokes_gained} == LOCKED_TABLES
    assert set(commands(main)) == set(LOCKED_COMMANDS) | set(OPEN_COMMANDS)
    assert not set(LOCKED_COMMANDS) & set(OPEN_COMMANDS)


def asks(full: House, who: str, method: str, asked: Asked, path: str | None = None) -> Any:
    limiter.reset()
    made = asked.makes(full, who)
    where = (path or asked.path).format(player=full.robin.player_id, id=made)
    return full.client(made if asked.needs == CADDYING else who).open(
        where, method=method, json=asked.body, buffered=True
    )


def figures(found: Any) -> list[Any]:
    """Every strokes gained of a document, however deep."""
    if isinstance(found, dict):
        own = [value for name, value in found.items() if "gained" in name or name in ("per_shot", "per_round")]
        inside = [figure for value in found.values() for figure in figures(value)]
        return [value for value in own if isinstance(value, int | float)] + inside
    return [figure for value in found for figure in figures(value)] if isinstance(found, list) else []


def callers(asked: Asked) -> tuple[str, ...]:
    """The player, and a coach where one may ask."""
    return ("Robin", "Ash") if asked.needs in (READING, ALLOWED) else ("Robin",)


@pytest.mark.parametrize(("endpoint", "method"), sorted(LOCKED_ROUTES))
def test_a_locked_route_is_refused_to_everybody(playing: House, valued: list[int], endpoint: str, method: str) -> None:
    asked = ROUTES[endpoint, method]
    for who in callers(asked):
        said = problem(asks(playing, who, method, asked), 423)
        assert said["detail"] == f"Robin has a competition round open. {LOCK}"
    assert valued == []
    free = playing.client("Sam").open(
        asked.path.format(player=playing.sam.player_id, id=""), method=method, json=asked.body, buffered=True
    )
    assert free.status_code == asked.answer


@pytest.mark.parametrize(("endpoint", "method"), sorted(OPEN_ROUTES))
def test_an_open_route_shows_no_strokes_gained_and_no_note(
    playing: House, valued: list[int], endpoint: str, method: str
) -> None:
    asked = ROUTES[endpoint, method]
    for who in callers(asked):
        answer = asks(playing, who, method, asked)
        assert answer.status_code == asked.answer
        assert SECRET_WORDS not in answer.text
        assert figures(answer.get_json(silent=True)) == []
    if endpoint != "players.Scorecard":
        assert valued == []


def test_scorecards_of_older_rounds_keep_the_score_and_lose_strokes_gained(playing: House) -> None:
    with reading(playing.engine) as connection:
        known = [(one["round_id"], one["kind"]) for one in rounds(connection, playing.robin.player_id)]
    assert [kind for _, kind in known] == ["competition", "practice", "practice"]
    for round_id, _ in known:
        for who in ("Robin", "Ash"):
            path = f"/api/players/{playing.robin.player_id}/rounds/{round_id}/scorecard"
            card = playing.client(who).get(path).get_json()
            assert (card["total"]["score"], card["holes"][0]["putts"], card["locked"]) == (4, 2, LOCK)
            assert figures(card) == []


@pytest.mark.parametrize("format_", MEDIA_TYPES)
@pytest.mark.parametrize("table", list(tables()))
def test_every_table_in_every_format(playing: House, table: str, format_: str) -> None:
    path = f"/api/season/2026/{table}.{format_}"
    for who in ("Robin", "Ash"):
        for address in (path, f"{path}?player={playing.robin.player_id}", f"{path}?baseline=tour"):
            answer = playing.client(who).get(address, buffered=True)
            assert answer.status_code == (423 if table in LOCKED_TABLES else 200)


def test_a_download_of_everything_holds_the_log_and_says_that_notes_are_locked(playing: House) -> None:
    path = f"/api/players/{playing.robin.player_id}/everything"
    found = playing.client("Robin").get(path).get_json()
    assert (found["notes"], found["locked"]) == ([], LOCK)
    assert len(found["changes"]) >= len(playing.robin.changes) - 3
    free = playing.client("Sam").get(path.replace(playing.robin.player_id, playing.sam.player_id)).get_json()
    assert free["locked"] is None


def test_a_note_may_be_taken_back_but_none_is_taken(playing: House) -> None:
    path = f"/api/players/{playing.robin.player_id}/notes"
    note = {"about": "club", "about_id": "driver", "words": "another"}
    mine = write_note(playing.engine, playing.robin.player_id, playing.accounts["Ash"], **note)
    coach = playing.client("Ash")
    problem(coach.post(path, json=note), 423)
    assert coach.delete(f"{path}/{mine}").status_code == 204


class Terminal:
    """Runs commands on the database of the house."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch, full: House) -> None:
        monkeypatch.setenv("PENCILBAG_DATABASE", full.app.config["DATABASE"])
        monkeypatch.setenv("PENCILBAG_BASELINES", str(folder / "baselines"))
        self.baselines, self.folder = folder / "baselines", folder / "out"

    def run(self, name: str, words: list[str], player: str) -> Result:
        said = [word.format(player=player, folder=self.folder) for word in words]
        result = CliRunner().invoke(main, [*name.split(), *said])
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return result

    def refused(self, name: str, words: list[str], player: str = "Robin") -> None:
        result = self.run(name, words, player)
        assert (result.exit_code, result.stdout) == (2, ""), words
        assert result.stderr == f"error: Robin has a competition round open. {LOCK}\n", words
        assert not self.folder.exists(), words
        assert own_ids(self.baselines) == [], words


@pytest.fixture
def terminal(playing: House, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Terminal:
    return Terminal(tmp_path, monkeypatch, playing)


def variants(command: click.Command) -> list[list[str]]:
    """Every way of saying the result: each flag, and each value of an option that takes one of a list."""
    found: list[list[str]] = [[]]
    for option in command.params:
        if not isinstance(option, click.Option):
            continue
        if option.is_flag:
            found.append([option.opts[0]])
        elif isinstance(option.type, click.Choice):
            found += [[option.opts[0], str(choice)] for choice in option.type.choices]
    return found


@pytest.mark.parametrize("name", LOCKED_COMMANDS)
def test_a_locked_command_is_refused_however_it_is_asked(terminal: Terminal, valued: list[int], name: str) -> None:
    words = LOCKED_COMMANDS[name]
    for more in variants(commands(main)[name]):
        terminal.refused(name, [*words, *(more if more[:1] != ["--lie"] else [*more, "--from", "0,0"])])
    assert valued == []
    free = terminal.run(name, words, "Sam")
    assert "4.3a" not in free.stderr
    assert valued != []


@pytest.mark.parametrize("name", [name for name, words in OPEN_COMMANDS.items() if not isinstance(words, str)])
def test_an_open_command_values_no_shot(terminal: Terminal, valued: list[int], name: str) -> None:
    words = OPEN_COMMANDS[name]
    assert isinstance(words, list)
    result = terminal.run(name, words, "Robin")
    assert "4.3a" not in result.output
    assert "gained" not in result.stdout or name == "dictionary"
    assert valued == []


def test_an_answer_about_several_is_refused_and_names_who(terminal: Terminal, valued: list[int]) -> None:
    terminal.refused("summary", ["--everyone"])
    terminal.refused("export", ["--season", "2026", "--to", "{folder}"])
    terminal.refused("export", ["--season", "2026", "--to", "{folder}", "--package", "--format", "all"])
    terminal.refused("export", ["--season", "2026", "--to", "{folder}", "--workers", "1"])
    assert [path.name for path in terminal.folder.parent.iterdir()] == []
    terminal.refused("baseline fit", ["--from", "everyone"])
    terminal.refused("baseline fit", ["--from", "first"])
    assert valued == []


def test_a_line_of_the_coachs_list_says_why_it_has_no_figures(playing: House) -> None:
    (line,) = playing.client("Ash").get("/api/squad").get_json()["players"]
    assert (line["name"], line["locked"], line["recent"], line["rounds"]) == ("Robin", LOCK, [], None)
    assert json.dumps(figures(line)) == "[]"
