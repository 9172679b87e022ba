"""Players beside others over HTTP: who sees whom, the field as a whole only, the lock, bad input, what is kept."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from uuid import uuid4

import pytest

from server.files.shots_import import import_table
from server.files.shots_rows import read_table
from server.questions.competition_lock import LOCK
from server.store.accounts import add_account
from server.store.engine import reading
from server.store.log import push
from server.store.players import players
from server.store.sharing import end_share, share, shares
from tests.api.asking import problem
from tests.api.people import PASSWORD, House, house
from tests.files.tables import nine_par_fours, table
from tests.records.made import Season, change

NAMES = [f"Invented {letter}" for letter in "ABCDEFGHIJKL"]
ROUNDS = 4


class World:
    """A house with twelve players of four rounds: Ash reads the first three, the next seven share with a squad that
    nobody reads for, the last two share with nobody."""

    def __init__(self, made: House) -> None:
        self.house = made
        rows = [
            shot
            for number, name in enumerate(NAMES)
            for round_ in range(ROUNDS)
            for shot in nine_par_fours(
                (number * 5 + round_ * 3) % 10,
                player=name,
                played_on=f"2026-04-{1 + 4 * round_:02}",
                course=("North", "South")[round_ % 2],
            )
        ]
        import_table(made.engine, read_table(table(rows)))
        with reading(made.engine) as connection:
            self.ids = {player.name: player.player_id for player in players(connection)}
        for place, name in enumerate(NAMES):
            if place < 3:
                share(made.engine, self.ids[name], reader="Ash", squad=None)
            elif place < 10:
                share(made.engine, self.ids[name], reader=None, squad="second")
        first = self.ids[NAMES[0]]
        made.accounts["First"] = add_account(made.engine, "First", "player", PASSWORD, player_id=first)

    def get(self, who: str, place: int, view: str) -> Any:
        """The answer about the player of that place."""
        return self.house.client(who).get(f"/api/players/{self.ids[NAMES[place]]}/{view}")

    def close(self, place: int) -> None:
        """End what the player shares."""
        player_id = self.ids[NAMES[place]]
        with reading(self.house.engine) as connection:
            found = shares(connection, player_id)
        for one in found:
            assert end_share(self.house.engine, player_id, one["share_id"])

    def lock(self, place: int) -> None:
        """Open a competition round of the player."""
        season = Season(NAMES[place])
        body = season.round("open", kind="competition") and season.changes[-1]["body"]
        opened = change("round", body, str(uuid4()))
        assert push(self.house.engine, self.ids[NAMES[place]], "phone", [opened]).quarantined == []


@pytest.fixture
def world(tmp_path: Any) -> Iterator[World]:
    made = house(f"sqlite:///{tmp_path / 'log.sqlite'}")
    yield World(made)
    made.engine.dispose()


def test_the_squad_is_who_may_be_read(world: World) -> None:
    found = world.get("Ash", 0, "against").get_json()
    assert (found["reference"], found["others"], found["rounds_of_others"]) == ("squad", 2, 2 * ROUNDS)
    assert [(one["name"], one["why"][:14]) for one in found["left_out"]] == [("Robin", "fewer than 3 r")]
    assert found["parts"][0]["low"] < found["parts"][0]["difference"] < found["parts"][0]["high"]
    alone = world.get("First", 0, "against").get_json()
    assert (alone["others"], alone["parts"][0]["difference"]) == (0, None)
    assert "there are none besides the player" in alone["words"]
    for who in ("Hazel", "Sam", "Olive"):
        problem(world.get(who, 0, "against"), 404)
        problem(world.get(who, 0, "holes"), 404)
    problem(world.get("Ash", 5, "against"), 404)


def test_the_field_is_reported_as_one(world: World) -> None:
    """Nine others: two who may be read and seven who share with somebody; whoever shares with nobody is not in it."""
    for who in ("Ash", "First"):
        answer = world.get(who, 0, "against?reference=field")
        found = answer.get_json()
        assert (found["others"], found["rounds_of_others"]) == (9, 9 * ROUNDS)
        assert found["left_out"] == []
        assert not [name for name in NAMES[1:] if name in answer.text]
        assert not [world.ids[name] for name in NAMES[1:] if world.ids[name] in answer.text]
    total = found["parts"][0]
    assert total["low"] < total["difference"] < total["high"]


def test_fewer_than_five_whom_one_may_not_read_are_in_no_field(world: World) -> None:
    """Of the seven three go: the four who are left, and two who may be read, would be told apart."""
    for place in (3, 4, 5):
        world.close(place)
    found = world.get("Ash", 0, "against?reference=field").get_json()
    assert (found["others"], found["rounds_of_others"], found["courses"]) == (0, 0, 0)
    assert {row["difference"] for row in found["parts"]} == {None}
    assert "5 at least of those you cannot see one by one" in found["words"]


def test_days_choose_no_rounds_of_the_field(world: World) -> None:
    """Else two questions that differ by a day would single out who played on it."""
    days = "from=2026-04-01&to=2026-04-09"
    whole, part = (world.get("Ash", 0, f"against?reference=field{more}").get_json() for more in ("", f"&{days}"))
    assert (whole["rounds"], part["rounds"]) == (4, 3)
    assert whole["rounds_of_others"] == part["rounds_of_others"] == 9 * ROUNDS
    squad = world.get("Ash", 0, f"against?{days}").get_json()
    assert squad["rounds_of_others"] == 2 * 3


def test_who_is_locked_is_in_no_reference_and_not_reported(world: World) -> None:
    world.lock(1)
    world.lock(4)
    field = world.get("Ash", 0, "against?reference=field")
    assert field.get_json()["others"] == 7
    assert "competition" not in field.text
    squad = world.get("Ash", 0, "against").get_json()
    assert (NAMES[1], "a competition round is open") in [(one["name"], one["why"]) for one in squad["left_out"]]
    said = problem(world.get("Ash", 1, "against"), 423)
    assert said["detail"] == f"{NAMES[1]} has a competition round open. {LOCK}"
    problem(world.get("Ash", 1, "holes"), 423)
    for place, other in ((0, 1), (1, 0)):
        problem(world.get("Ash", place, f"pair?other={world.ids[NAMES[other]]}"), 423)
    holes = world.house.client("Ash").get("/api/squad/holes?course=North").get_json()
    assert (holes["players"], [one["name"] for one in holes["left_out"]]) == (2, [NAMES[1]])


def test_a_pair_is_of_two_who_may_be_read(world: World) -> None:
    one, other, hidden = (world.ids[NAMES[place]] for place in (0, 1, 5))
    found = world.get("Ash", 0, f"pair?other={other}").get_json()
    assert [found[side]["player_id"] for side in ("a", "b")] == [one, other]
    assert found["shared_courses"] == ["North", "South"]
    assert world.get("Ash", 1, f"pair?other={one}").get_json()["parts"][0]["difference"] == pytest.approx(
        -found["parts"][0]["difference"]
    )
    for who, unread in (("Ash", hidden), ("Ash", str(uuid4())), ("First", other)):
        said = problem(world.get(who, 0, f"pair?other={unread}"), 404)
        assert said["detail"] == f"There is no player {unread} here."
    said = problem(world.get("Ash", 0, f"pair?other={one}"), 422)
    assert said["errors"][0]["message"] == "is the same player"
    problem(world.get("Ash", 0, "pair"), 422)


def test_holes_of_the_squad_and_of_one_player(world: World) -> None:
    ash = world.house.client("Ash")
    listed = ash.get("/api/squad/holes").get_json()
    assert [(one["course"], one["rounds"], one["players"]) for one in listed["courses"]] == [
        ("North", 6, 3),
        ("South", 6, 3),
    ]
    found = ash.get("/api/squad/holes?course=North").get_json()
    assert (found["rounds"], found["players"], len(found["holes"])) == (6, 3, 9)
    alone = world.get("First", 0, "holes?course=North").get_json()
    assert (alone["rounds"], alone["players"]) == (2, 1)
    assert {one["parts"][0]["lacking"] for one in alone["holes"]} == {"played fewer than 3 times"}
    assert "cannot be separated" in alone["words"]
    said = problem(ash.get("/api/squad/holes?course=Moor"), 422)
    assert said["errors"][0]["message"] == "is not a course with rounds that count: North, South"


def test_nobody_is_called_first_whose_rank_is_not_separated(world: World) -> None:
    found = world.house.client("Ash").get("/api/squad/ranks").get_json()
    assert {row["rank_high"] for row in found["players"]} == {3}
    assert found["words"].startswith("Nobody is clearly first")
    assert " is first" not in found["words"]


@pytest.mark.parametrize(
    ("view", "field"),
    [
        ("against?reference=moon", "reference"),
        ("against?level=1", "level"),
        ("against?kind=moon", "kind"),
        ("against?from=2026-05-01&to=2026-04-01", "from"),
        ("against?course=North", "course"),
        ("pair?other=moon", "other"),
        ("holes?level=0.1", "level"),
        ("holes?from=2026-05-01&to=2026-04-01", "from"),
    ],
)
def test_bad_queries_name_the_field(world: World, view: str, field: str) -> None:
    said = problem(world.get("Ash", 0, view), 422)
    assert [one["field"] for one in said["errors"]] == [field]


def test_what_is_kept_is_good_as_long_as_every_log_and_share_stay(world: World) -> None:
    views = ("against", "against?reference=field", f"pair?other={world.ids[NAMES[1]]}", "holes?course=North")
    before = {view: world.get("Ash", 0, view) for view in views}
    for view, answer in before.items():
        again = world.get("Ash", 0, view)
        assert (again.data, again.headers["ETag"]) == (answer.data, answer.headers["ETag"])
        path = f"/api/players/{world.ids[NAMES[0]]}/{view}"
        same = world.house.client("Ash").get(path, headers={"If-None-Match": answer.headers["ETag"]})
        assert same.status_code == 304
    world.lock(2)
    assert world.get("Ash", 0, "against").get_json()["others"] == 1
    world.close(9)
    assert world.get("Ash", 0, "against?reference=field").get_json()["others"] == 7
    problem(world.get("Hazel", 0, "against"), 404)
