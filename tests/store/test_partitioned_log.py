"""A partitioned log answers as one table does, keeps what is unique over all players, and reads one part a player."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import pytest
import sqlalchemy as sa
from click.testing import CliRunner, Result
from freezegun import freeze_time
from psycopg import sql

from server.__main__ import main
from server.store import partitioned_log
from server.store.backup import backup, restore, serving
from server.store.caddie_log import _scanned
from server.store.caddies import Caddie
from server.store.cursors import sequence_of
from server.store.engine import open_database, reading, writing
from server.store.erasure import erase_player
from server.store.log import push
from server.store.partitioned_log import PartitionError, log_size, partition_log
from server.store.places import is_partitioned, misplaced
from server.store.players import heads, record_versions
from server.store.pulling import pull
from server.store.rebuild import check_database
from server.store.tables import CHANGE
from server.store.touched import LogEnd, touched_since
from tests.conftest import PARTITIONED, POSTGRESQL, SQLITE
from tests.records.made import Season, body_of, change
from tests.store.cluster import PARTS, Cluster
from tests.store.full_database import everything, filled
from tests.tiers import count, some

New = Callable[[str, Path], str]


@contextmanager
def opened(cluster: Cluster, url: str) -> Iterator[sa.Engine]:
    """A database of a test, dropped at its end."""
    engine = open_database(url)
    yield engine
    engine.dispose()
    cluster.drop(url)


@pytest.fixture
def parted(cluster: Cluster) -> Iterator[sa.Engine]:
    """An empty database with a partitioned log."""
    with opened(cluster, cluster.partitioned()) as engine:
        yield engine


@pytest.fixture
def whole(cluster: Cluster) -> Iterator[sa.Engine]:
    """The same with a log in one table."""
    with opened(cluster, cluster.fresh()) as engine:
        yield engine


def parts_of(engine: sa.Engine) -> int:
    return log_size(engine).parts


def shape(engine: sa.Engine) -> tuple[Any, ...]:
    """Columns, keys and indexes of the log, its rules and who may read it, as PostgreSQL has them."""
    look = sa.inspect(engine)
    keys = "SELECT conname, pg_get_constraintdef(oid) FROM pg_constraint WHERE conrelid = 'change'::regclass ORDER BY 1"
    with reading(engine) as connection:
        columns = [
            (one["name"], str(one["type"]), one["nullable"], one["default"]) for one in look.get_columns("change")
        ]
        indexes = sorted((one["name"], one["column_names"], one["unique"]) for one in look.get_indexes("change"))
        rights = connection.exec_driver_sql("SELECT relacl::text FROM pg_class WHERE oid = 'change'::regclass").scalar()
        return columns, connection.exec_driver_sql(keys).all(), indexes, rights, sorted(look.get_table_names())


def test_a_full_log_is_partitioned_and_made_one_table_again_without_a_loss(whole: sa.Engine) -> None:
    filled(whole)
    with whole.begin() as connection:
        connection.exec_driver_sql("GRANT SELECT ON change TO pg_monitor WITH GRANT OPTION")
        connection.exec_driver_sql("GRANT SELECT, INSERT ON change TO PUBLIC")
    before, unsplit = everything(whole), shape(whole)
    assert parts_of(whole) == 1
    for parts in (PARTS, 3, 1):
        partition_log(whole, parts)
        assert everything(whole) == before
        assert check_database(whole).faults == 0
        assert log_size(whole).changes == len(before["change"])
        assert parts_of(whole) == parts
        columns, keys, indexes, rights, _ = shape(whole)
        assert (columns, keys, rights) == (unsplit[0], unsplit[1], unsplit[3])
        assert [one[:2] for one in indexes] == [one[:2] for one in unsplit[2]]
        with reading(whole) as connection:
            assert is_partitioned(connection) is (parts > 1)
        late = Season(f"Late {parts}")
        assert push(whole, late.player_id, "phone", late.changes).new == 1
        before = everything(whole)
    assert shape(whole) == unsplit


def test_a_log_that_is_not_sound_is_left_as_it_is(
    whole: sa.Engine, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (season, other) = filled(whole)
    before = shape(whole), everything(whole)

    def refused(words: str, parts: int = PARTS) -> None:
        with pytest.raises(PartitionError, match=words):
            partition_log(whole, parts)
        assert (shape(whole), everything(whole)) == before

    for number in (0, -1, partitioned_log.MOST_PARTS + 1):
        refused(f"^parts: {number} is outside 1 to 64$", number)
    mended = "UPDATE player SET chain = %(chain)s WHERE player_id = %(of)s"
    with whole.begin() as connection:
        chain = connection.exec_driver_sql(
            "SELECT chain FROM player WHERE player_id = %(of)s", {"of": season.player_id}
        ).scalar_one()
        connection.exec_driver_sql(mended, {"chain": "0" * 32, "of": season.player_id})
    before = shape(whole), everything(whole)
    refused(f"^player {season.player_id}: the log does not end as recorded; run check$")
    with whole.begin() as connection:
        connection.exec_driver_sql(mended, {"chain": chain, "of": season.player_id})
        connection.exec_driver_sql("CREATE VIEW in_the_way AS SELECT * FROM change")
    before = shape(whole), everything(whole)
    refused("^the log was left as it was: cannot drop table change because other objects depend on it$")
    with whole.begin() as connection:
        connection.exec_driver_sql("DROP VIEW in_the_way")
    with whole.begin() as connection:
        shouted = (
            "UPDATE change SET change_id = upper(change_id) WHERE seq = 2 AND player_id = %(of)s RETURNING change_id"
        )
        (shouted_id,) = connection.exec_driver_sql(shouted, {"of": other.player_id}).one()
    before = shape(whole), everything(whole)
    refused("^the log was left as it was: an id is not a UUID in lower case$")
    with whole.begin() as connection:
        mended = "UPDATE change SET change_id = lower(change_id) WHERE change_id = %(id)s"
        connection.exec_driver_sql(mended, {"id": shouted_id})
    before = shape(whole), everything(whole)
    copied = partitioned_log._copy

    def copied_badly(connection: sa.Connection, parts: int) -> None:
        copied(connection, parts)
        connection.exec_driver_sql("UPDATE change_anew SET device_id = 'other' WHERE seq = 1")

    with monkeypatch.context() as patched:
        patched.setattr(partitioned_log, "_copy", copied_badly)
        refused("^the log was left as it was: its copy differs from it$")
    partition_log(whole, PARTS)
    assert everything(whole) == before[1]


def test_the_command_tells_the_room_it_needs_and_refuses_what_it_cannot_do(
    whole: sa.Engine, new_database: New, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def run(*words: str) -> Result:
        return CliRunner().invoke(main, ["partition-log", *words])

    filled(whole)
    number = log_size(whole).changes
    monkeypatch.setenv("PENCILBAG_DATABASE", whole.url.set(drivername="postgresql").render_as_string(False))
    told = run("--parts", "4", "--dry-run")
    assert (told.exit_code, told.stderr, parts_of(whole)) == (0, "", 1)
    size = r"[0-9,]+\.[0-9] MB"
    held = rf"the log has {number} changes in 1 part, {size}"
    needs = rf"this needs up to {size} of disk until it is done, and as much of write-ahead log\n"
    assert re.fullmatch(f"{held}; {needs}", told.stdout)
    with serving(whole):
        busy = run("--parts", "4")
    assert (busy.exit_code, busy.stdout) == (2, "")
    assert busy.stderr.splitlines()[-1] == "error: a server is running on this database; stop it first"
    with open_and_read(whole):
        monkeypatch.setenv("PENCILBAG_BUSY_WAIT_S", "0.1")
        waited = run("--parts", "4")
        monkeypatch.delenv("PENCILBAG_BUSY_WAIT_S")
    assert (waited.exit_code, waited.stdout, parts_of(whole)) == (2, "", 1)
    assert "the database is in use by another transaction" in waited.stderr
    done = run("--parts", "4")
    assert done.exit_code == 0, done.stderr
    assert re.fullmatch(rf"the log has {number} changes in 4 parts, {size}\n", done.stdout)
    bad = run("--parts", "65")
    assert (bad.exit_code, bad.stdout, bad.stderr) == (2, "", "error: --parts: 65 is outside 1 to 64\n")
    monkeypatch.setenv("PENCILBAG_DATABASE", new_database(SQLITE, tmp_path))
    words = "error: a log in SQLite is always one table; only PostgreSQL's can be partitioned\n"
    for more in ((), ("--dry-run",)):
        refused = run("--parts", "4", *more)
        assert (refused.exit_code, refused.stdout, refused.stderr) == (2, "", words)


class open_and_read:  # noqa: N801 - reads as a statement
    """A transaction that has read the log and is still open."""

    def __init__(self, engine: sa.Engine) -> None:
        self.session = reading(engine)

    def __enter__(self) -> None:
        self.session.__enter__().execute(sa.select(CHANGE.c.seq)).all()

    def __exit__(self, *_: object) -> None:
        self.session.__exit__(None, None, None)


def pushes_of(chooser: random.Random) -> Iterator[tuple[str, list[dict[str, Any]]]]:
    """Pushes of a few players: new records and edits, ids used twice, records and ids of one another."""
    players = [str(UUID(int=chooser.getrandbits(128), version=4)) for _ in range(4)]
    made: list[dict[str, Any]] = []

    def new_id() -> str:
        return str(UUID(int=chooser.getrandbits(128), version=4))

    for number in range(30):
        batch = []
        for _ in range(chooser.randint(1, 5)):
            known = chooser.choice(made) if made else None
            body = body_of("club", label=f"club {number} {len(made)}")
            what = chooser.random()
            if known is None or what < 0.45:
                one = change("club", body, new_id(), change_id=new_id())
            elif what < 0.75:
                one = change("club", body, known["record_id"], parents=[known["change_id"]], change_id=new_id())
            elif what < 0.85:
                one = dict(known)
            elif what < 0.95:
                one = known | {"body": body}
            else:
                one = change("club", None, known["record_id"], parents=[known["change_id"]], change_id=new_id())
            batch.append(one)
            made.append(one)
        yield chooser.choice(players), batch


@pytest.mark.parametrize("seed", range(count(1, 40)))
def test_the_same_pushes_give_the_same_answers_and_the_same_rows(
    whole: sa.Engine, parted: sa.Engine, seed: int
) -> None:
    erased: set[str] = set()
    met: set[tuple[str, str]] = set()
    chooser = random.Random(seed)
    with freeze_time("2026-05-02T10:00:00Z"):
        for number, (player_id, batch) in enumerate(pushes_of(random.Random(seed))):
            if player_id in erased:
                continue
            answers = [push(engine, player_id, "phone", batch) for engine in (whole, parted)]
            assert answers[0] == answers[1]
            met |= {(field.field, field.message) for _, faults in answers[0].quarantined for field in faults}
            if number in (15, 22) and chooser.random() < 0.7:
                erased.add(player_id)
                for engine in (whole, parted):
                    erase_player(engine, player_id)
    assert {("change_id", "is already used by another change"), ("record_id", "belongs to another player")} <= met
    assert everything(whole) == everything(parted)
    ids = [row[3] for row in everything(whole)["change"]]
    with reading(whole) as one, reading(parted) as other:
        assert heads(one, ids) == heads(other, ids) != {}
    for engine in (whole, parted):
        report = check_database(engine)
        assert report.faults == 0, report.differences


def test_what_is_unique_over_all_players_is_refused_by_the_database_itself(parted: sa.Engine) -> None:
    """Rows written past every look of the server."""
    one, two = filled(parted)
    with reading(parted) as connection:
        row = dict(connection.execute(sa.select(CHANGE).where(CHANGE.c.player_id == one.player_id)).mappings().first())
    new = row | {"player_id": two.player_id, "seq": 9_999}
    same_id = new | {"record_id": str(uuid4())}
    same_number = new | {"change_id": str(uuid4())}
    for bad in (same_id, same_number):
        with pytest.raises(sa.exc.IntegrityError, match="change_place"), writing(parted) as connection:
            connection.execute(sa.insert(CHANGE), bad)
    with pytest.raises(sa.exc.IntegrityError, match="change_place"), writing(parted) as connection:
        connection.execute(sa.update(CHANGE).values(record_id=str(uuid4()), record_seq=1))
    sound = new | {"change_id": str(uuid4()), "record_id": str(uuid4())}
    this = CHANGE.c.change_id == sound["change_id"]
    with parted.connect() as connection:
        connection.execute(sa.insert(CHANGE), sound)
        assert misplaced(connection) == 0
        connection.execute(sa.update(CHANGE).where(this).values(player_id=one.player_id, record_seq=7))
        assert misplaced(connection) == 0
        connection.execute(sa.delete(CHANGE).where(this))
        assert misplaced(connection) == 0
        connection.rollback()


def test_the_check_finds_and_mends_a_place_that_is_wrong(parted: sa.Engine) -> None:
    filled(parted)
    places = "SELECT * FROM change_place ORDER BY change_id"
    with parted.begin() as connection:
        before = connection.exec_driver_sql(places).all()
        lowest, highest = (
            f"change_id = (SELECT {end}(change_id::text)::uuid FROM change_place)" for end in ("min", "max")
        )
        connection.exec_driver_sql(f"DELETE FROM change_place WHERE {lowest}")
        connection.exec_driver_sql(f"UPDATE change_place SET record_seq = 99 WHERE {highest}")
        connection.exec_driver_sql(f"INSERT INTO change_place VALUES ({', '.join(['gen_random_uuid()'] * 3)}, 1)")
    assert check_database(parted).differences == ["change_place: 3 rows differ from the log"]
    assert check_database(parted, rebuild=True).faults == 1
    assert check_database(parted).faults == 0
    with reading(parted) as connection:
        assert connection.exec_driver_sql(places).all() == before


def test_reads_of_one_player_touch_one_part_alone(parted: sa.Engine) -> None:
    """Each statement that pushing, pulling and looking at one player's records sends is explained."""
    seasons = filled(parted)
    player_id = seasons[0].player_id
    page = pull(parted, player_id, None)
    assert page is not None
    club = next(one for one in page.changes if one["kind"] == "club")
    told: list[tuple[str, Any]] = []

    def hear(_c: Any, _cursor: Any, statement: str, parameters: Any, _context: Any, many: bool) -> None:
        if re.search(r"FROM change\b|JOIN change\b|UPDATE change\b", statement) and not many:
            told.append((statement, parameters))

    sa.event.listen(parted, "before_cursor_execute", hear)
    again = change("club", body_of("club", label="again"), club["record_id"], parents=[club["change_id"]])
    assert push(parted, player_id, "phone", [again, *seasons[0].changes]).new == 1
    pull(parted, player_id, page.cursor)
    with reading(parted) as connection:
        assert record_versions(connection, player_id, club["record_id"]) is not None
        assert sequence_of(connection, player_id, page.cursor) is not None
        assert touched_since(connection, player_id, LogEnd(0, "")) is None
        assert player_id in heads(connection, [player_id])
        _scanned(connection, caddie_of(player_id), 0, 9)
    sa.event.remove(parted, "before_cursor_execute", hear)
    assert len(told) >= 10
    with reading(parted) as connection:
        for statement, parameters in told:
            for mode in ("force_custom_plan", "force_generic_plan"):
                assert parts_read(connection, statement, parameters, mode) == 1, statement


def parts_read(connection: sa.Connection, statement: str, parameters: Any, mode: str) -> int:
    """How many parts of the log PostgreSQL reads for a statement, by its plan after it ran."""
    connection.exec_driver_sql(f"SET LOCAL plan_cache_mode = {mode}")
    raw = connection.connection.driver_connection
    assert raw is not None
    names: list[str] = []
    words = re.sub(r"%\((\w+)\)s", lambda one: f"${names.append(one[1]) or len(names)}", statement).replace("%%", "%")
    values = sql.SQL(", ").join(sql.Literal(parameters[name]) for name in names)
    with raw.cursor() as cursor:
        cursor.execute(f"PREPARE looked AS {words}")
        cursor.execute(sql.SQL("EXPLAIN (ANALYZE, FORMAT JSON) EXECUTE looked ({})").format(values))
        (plan,) = cursor.fetchone()
        cursor.execute("DEALLOCATE looked")
    return len(set(_scanned_parts(plan if isinstance(plan, list) else json.loads(plan))))


def _scanned_parts(node: Any) -> Iterator[str]:
    if isinstance(node, list):
        for one in node:
            yield from _scanned_parts(one)
    elif isinstance(node, dict):
        if str(node.get("Relation Name", "")).startswith("change_part_") and node.get("Actual Loops", 0):
            yield node["Relation Name"]
        for one in node.values():
            yield from _scanned_parts(one)


def caddie_of(player_id: str) -> Caddie:
    """A caddie of some round of the player's."""
    return Caddie(str(uuid4()), player_id, str(uuid4()), "Ash", "phone", "2026-05-01", "2026-05-02")


FORMS = [(POSTGRESQL, PARTITIONED), (PARTITIONED, POSTGRESQL), (PARTITIONED, PARTITIONED)]


@pytest.mark.parametrize(("dumped", "over"), some(FORMS, 0, 1))
def test_a_dump_is_restored_over_a_log_of_either_form(
    dumped: str, over: str, new_database: New, cluster: Cluster, tmp_path: Path
) -> None:
    urls = [new_database(sort, tmp_path) for sort in (dumped, over)]
    engine, other = map(open_database, urls)
    filled(engine)
    if dumped == over:
        partition_log(other, PARTS + 2)
    late = Season("Late")
    push(other, late.player_id, "phone", late.changes)
    backup(engine, tmp_path / "dump")
    restore(other, tmp_path / "dump")
    assert shape(other) == shape(engine)
    assert everything(other) == everything(engine)
    assert check_database(other).faults == 0
    assert push(other, late.player_id, "phone", late.changes).new == 1
    with reading(other) as connection:
        assert misplaced(connection) == 0
        functions = "SELECT count(*) FROM pg_proc WHERE proname = 'change_place_kept'"
        assert connection.exec_driver_sql(functions).scalar() == (dumped == PARTITIONED)
    partition_log(other, 2)
    for one, url in zip((engine, other), urls, strict=True):
        one.dispose()
        cluster.drop(url)


def test_later_steps_can_add_to_a_partitioned_log(parted: sa.Engine) -> None:
    """What a migration does to the log: a column, an index, values of all rows; partitioned anew the column stays."""
    filled(parted)
    with parted.begin() as connection:
        connection.exec_driver_sql("ALTER TABLE change ADD COLUMN moon integer NOT NULL DEFAULT 0")
        connection.exec_driver_sql("UPDATE change SET moon = seq")
        connection.exec_driver_sql("DROP INDEX change_by_record")
        connection.exec_driver_sql("CREATE INDEX change_by_record ON change (record_id, record_seq)")
    partition_log(parted, 2)
    with reading(parted) as connection:
        assert connection.exec_driver_sql("SELECT bool_and(moon = seq) FROM change").scalar() is True
    assert check_database(parted).faults == 0
