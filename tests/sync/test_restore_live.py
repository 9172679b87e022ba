"""A real server, an old backup restored under it, and devices that bring back what the backup lacks."""

from __future__ import annotations

import random
import uuid
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from server.__main__ import main
from server.records.fold import PUT
from server.store.engine import open_database
from server.store.pulling import pull
from server.store.rebuild import check_database
from tests.bench.served import Served
from tests.forked import serving
from tests.records.made import body_of
from tests.sync.device import Device
from tests.sync.faults.servers import HttpWire

pytestmark = pytest.mark.processes


def command(url: str, *words: str) -> tuple[int, str, str]:
    """`python -m server` on a database: exit code, stdout, stderr. The server that it meets is a process of its own."""
    done = CliRunner(env={"PENCILBAG_DATABASE": url}).invoke(main, list(words))
    return done.exit_code, done.stdout, done.stderr


def write(device: Device, count: int, record_id: str | None = None) -> list[str]:
    """New clubs on a device, or edits of one."""
    made = [
        device.write(
            record_id or str(uuid.uuid4()), "club", PUT, body_of("club", label=f"{device.device_id[:4]} {number}")
        )
        for number in range(count)
    ]
    return [change["change_id"] for change in made]


def exchange(server: Served, *devices: Device) -> None:
    """Every device pushes and pulls until nothing moves; bounded."""
    wire = HttpWire(server.port)
    for _ in range(4):
        for device in devices:
            device.push(wire, random.Random(0), 1000)
            while device.pull(wire, 3):
                pass
    wire.close()


@pytest.mark.parametrize("sort", ["sqlite", "postgresql"])
def test_devices_bring_back_what_an_old_backup_lacks(
    new_database: Callable[[str, Path], str], tmp_path: Path, sort: str
) -> None:
    url, file = new_database(sort, tmp_path), tmp_path / "old.backup"
    one, two = Device(str(uuid.uuid4())), Device("")
    two.player_id = one.player_id
    with serving(url) as server:
        written = write(one, 5)
        exchange(server, one, two)
        shared = one.held[written[0]]["record_id"]
        code, _, err = command(url, "backup", str(file))
        assert (code, err) == (0, "")
        written += write(one, 4) + write(two, 4) + write(two, 1, shared)
        exchange(server, one, two)
        # Not sent yet when the server goes.
        written += write(one, 2) + write(one, 1, shared)
        refusal = "error: a server is running on this database; stop it first\n"
        assert command(url, "restore", str(file)) == (2, "", refusal)
    cursor = one.cursor
    assert command(url, "restore", str(file)) == (0, f"restored from {file}: 5 changes, 5 records\n", "")
    with serving(url) as server:
        wire = HttpWire(server.port)
        assert wire.pull(one.player_id, cursor, 500)["reset"] is True
        wire.close()
        newcomer = Device(one.player_id)
        exchange(server, one, two, newcomer)
    for device in (one, two, newcomer):
        assert device.held.keys() == set(written)
        assert device.outbox == {}
        assert device.view() == one.view()
    engine = open_database(url)
    page = pull(engine, one.player_id, None, 1000)
    assert page is not None
    assert sorted(found["change_id"] for found in page.changes) == sorted(written)
    assert [found["seq"] for found in page.changes] == list(range(1, len(written) + 1))
    report = check_database(engine)
    assert report.faults == 0, report.differences
    engine.dispose()
