"""A partitioned log beside one table: `python -m tests.bench.bench_partitioned [--log N] [--players N] [--parts N]`.

A private PostgreSQL that waits for no disk. Bytes a change, what partitioning takes, a push of a round and a pull of a
player by the processor (this process and PostgreSQL's, in turn), vacuum behind an erasure. Never run as a test.

With `--on-disk FOLDER` it lies there and waits for the disk, and with `--memory-mb N` besides it has, once the logs are
filled and written anew, no more than that for itself and for what it reads and writes (a memory group of Linux's
control groups, version 1; root makes it): a log larger than its server's memory, without a machine that small.
"""

from __future__ import annotations

import argparse
import os
import time
import uuid
from collections.abc import Callable
from pathlib import Path
from statistics import median

import sqlalchemy as sa

from server.records.fold import PUT
from server.store.engine import open_database, reading, writing
from server.store.erasure import erase_player
from server.store.log import push
from server.store.partitioned_log import LogSize, log_size, partition_log
from server.store.places import misplaced
from server.store.pulling import pull
from tests.bench.bench_sync import change, grow, round_of_shots
from tests.store.cluster import Cluster

TICK = os.sysconf("SC_CLK_TCK")
MEMORY_GROUPS = Path("/sys/fs/cgroup/memory")


class Log:
    """A database, what it is called, and the processor's time of one connection to it."""

    def __init__(self, name: str, url: str) -> None:
        self.name, self.url = name, url
        self.engine = open_database(url)
        with reading(self.engine) as connection:
            self.backend = int(connection.exec_driver_sql("SELECT pg_backend_pid()").scalar_one())

    def spent(self) -> tuple[float, float]:
        """Seconds of the processor: of this process, of PostgreSQL's."""
        fields = Path(f"/proc/{self.backend}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
        return time.process_time(), (int(fields[11]) + int(fields[12])) / TICK

    def size(self) -> LogSize:
        """Of the log."""
        return log_size(self.engine)


def in_turn(logs: list[Log], work: Callable[[Log], None], times: int) -> None:
    """Print what the work takes on each log, a block of 20 in turn: all of it, and the least block."""
    blocks: dict[str, list[tuple[float, float, float]]] = {log.name: [] for log in logs}
    for _ in range(max(times // 20, 1)):
        for log in logs:
            here, there = log.spent()
            start = time.perf_counter()
            for _ in range(20):
                work(log)
            wall = time.perf_counter() - start
            after = log.spent()
            blocks[log.name].append((after[0] - here, after[1] - there, wall))
    for name, found in blocks.items():
        here, there, wall = (1000 * median(one[place] for one in found) / 20 for place in range(3))
        least = 1000 * min(one[0] + one[1] for one in found) / 20
        words = f"here {here:.2f} ms, PostgreSQL {there:.2f} ms, least of both {least:.2f} ms; by the clock {wall:.2f}"
        print(f"  {name}: {words}", flush=True)


def vacuum(log: Log, player: str) -> None:
    """Erase a player and vacuum what that touched."""
    erase_player(log.engine, player)
    with log.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        where = sa.text("SELECT tableoid::regclass::text FROM change WHERE player_id = :of LIMIT 1")
        table = connection.execute(where, {"of": player}).scalar_one()
        pages = connection.exec_driver_sql(f"SELECT pg_total_relation_size('{table}')").scalar_one()
        start = time.perf_counter()
        connection.exec_driver_sql(f"VACUUM {table}")
        print(f"  {log.name}: VACUUM {table}, {pages / 1e6:,.0f} MB: {time.perf_counter() - start:.2f} s")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--log", type=int, default=1_000_000)
    parser.add_argument("--players", type=int, default=200)
    parser.add_argument("--parts", type=int, default=16)
    parser.add_argument("--pushes", type=int, default=200)
    parser.add_argument("--on-disk", type=Path)
    parser.add_argument("--memory-mb", type=int)
    asked = parser.parse_args()
    if asked.memory_mb and not (asked.on_disk and (MEMORY_GROUPS / "cgroup.procs").exists() and os.getuid() == 0):
        parser.error("--memory-mb needs --on-disk, root and a memory control group of version 1")
    cluster = Cluster(asked.on_disk)
    group = Held(asked.memory_mb) if asked.memory_mb else None
    try:
        measure(cluster, asked, group)
    finally:
        cluster.stop()
        if group:
            group.end()


class Held:
    """A group of processes that together have so much memory, with the pages of files that they read and write."""

    def __init__(self, megabytes: int) -> None:
        self.megabytes = megabytes
        self.folder = MEMORY_GROUPS / f"pencilbag-bench-{os.getpid()}"
        self.folder.mkdir()

    def take(self, cluster: Cluster) -> None:
        """Put the server in, empty the machine's memory of its files and hold it to the limit."""
        for process in cluster.processes():
            (self.folder / "cgroup.procs").write_text(f"{process}\n", encoding="ascii")
        os.sync()
        Path("/proc/sys/vm/drop_caches").write_text("1\n", encoding="ascii")
        (self.folder / "memory.limit_in_bytes").write_text(f"{self.megabytes * 2**20}\n", encoding="ascii")

    def end(self) -> None:
        """Remove the group, whose processes have ended."""
        self.folder.rmdir()


def filled(url: str, players: list[str], wanted: int) -> None:
    """A log of so many changes: what one player's has, with new ids for each, in turns, so that players lie mixed."""
    each = wanted // len(players)
    grow(url, players[0], each)
    engine = open_database(url)
    with writing(engine) as connection:
        given = sa.text(
            "SELECT seq, kind, parents, op, body, device_id, client_time, effective_time, received_at,"
            " schema_version, digest, chain, record_seq FROM change WHERE player_id = :of AND seq <= :each"
        )
        connection.execute(sa.text(f"CREATE TEMPORARY TABLE given AS {given}"), {"of": players[0], "each": each})
        for player in players[1:]:
            connection.execute(MADE_PLAYER, {"player": player, "of": players[0], "each": each})
        for turn in range(TURNS):
            for player in players[1:]:
                connection.execute(MADE, {"player": player, "turns": TURNS, "turn": turn})
    engine.dispose()


TURNS = 10
MADE_PLAYER = sa.text("""
    INSERT INTO player SELECT (jsonb_populate_record(player, jsonb_build_object('player_id', CAST(:player AS text),
    'last_seq', CAST(:each AS bigint)))).* FROM player WHERE player_id = :of
""")
MADE = sa.text("""
    INSERT INTO change (player_id, seq, change_id, record_id, kind, parents, op, body, device_id, client_time,
        effective_time, received_at, schema_version, digest, chain, record_seq)
    SELECT :player, seq, gen_random_uuid()::text, gen_random_uuid()::text, kind, parents, op, body, device_id,
        client_time,
        effective_time, received_at, schema_version, digest, chain, record_seq
    FROM given WHERE seq % CAST(:turns AS bigint) = :turn ORDER BY seq
""")


def measure(cluster: Cluster, asked: argparse.Namespace, group: Held | None) -> None:
    """All of it in a cluster, from the pushes on held to the memory of a group."""
    players = [str(uuid.uuid4()) for _ in range(asked.players)]
    first = cluster.fresh()
    filled(first, players, asked.log)
    copy = f"copy_{uuid.uuid4().hex}"
    with cluster.admin() as connection:
        connection.execute(f"CREATE DATABASE {copy} TEMPLATE {first.split('@/')[1].split('?')[0]}".encode())
    whole, parted = Log("one table", first), Log("partitioned", cluster.url(copy))
    told(whole, "as it grew")
    for log, parts in ((whole, 1), (parted, asked.parts)):
        with reading(log.engine) as connection:
            before = connection.exec_driver_sql("SELECT pg_current_wal_lsn()").scalar_one()
        start = time.perf_counter()
        partition_log(log.engine, parts)
        took = time.perf_counter() - start
        with reading(log.engine) as connection:
            words = f"SELECT pg_current_wal_lsn() - '{before}'::pg_lsn"
            written = connection.exec_driver_sql(words).scalar_one()
            log.backend = int(connection.exec_driver_sql("SELECT pg_backend_pid()").scalar_one())
        told(log, f"written anew in {took:.1f} s, {float(written) / 1e6:,.0f} MB of write-ahead log")
    logs = [whole, parted]
    clubs = {player: change("club", {"label": "7 iron", "sort": "iron"}) for player in players}
    for log in logs:
        with log.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            connection.exec_driver_sql("VACUUM ANALYZE")
        for player, club in clubs.items():
            push(log.engine, player, "bench", [club])
    if group:
        group.take(cluster)
    turns = iter(range(10**9))

    def one_push(log: Log) -> None:
        player = players[next(turns) % len(players)]
        sent = round_of_shots(clubs[player]["record_id"])
        assert push(log.engine, player, "bench", sent).new == len(sent)

    def one_edit(log: Log) -> None:
        player = players[next(turns) % len(players)]
        club = clubs[player]
        again = change("club", {"label": f"{next(turns)}", "sort": "iron"}, club["record_id"])
        again |= {"parents": [club["change_id"]], "op": PUT}
        assert push(log.engine, player, "bench", [again]).new == 1

    def one_pull(log: Log) -> None:
        page = pull(log.engine, players[next(turns) % len(players)], None, 500)
        assert page is not None
        assert len(page.changes) == 500

    print("push of a round with its 90 shots")
    sizes = [log.size() for log in logs]
    in_turn(logs, one_push, asked.pushes)
    for log, before in zip(logs, sizes, strict=True):
        now = log.size()
        print(f"  {log.name}: {(now.held - before.held) / (now.changes - before.changes):.0f} bytes a change pushed")
    print("push of one edit of a club")
    in_turn(logs, one_edit, asked.pushes)
    print("pull of 500 changes")
    in_turn(logs, one_pull, asked.pushes)
    print("a player erased")
    for log in logs:
        vacuum(log, players[0])
    with reading(parted.engine) as connection:
        start = time.perf_counter()
        assert misplaced(connection) == 0
        print(f"change_place compared with the log: {time.perf_counter() - start:.1f} s")


def told(log: Log, words: str) -> None:
    """Print how large the log is."""
    size = log.size()
    each = f"{size.held / size.changes:.0f} bytes a change"
    print(f"{log.name}, {words}: {size.changes:,} changes, {size.parts} parts, {each}", flush=True)


if __name__ == "__main__":
    main()
