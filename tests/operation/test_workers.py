"""Worker processes: answers in pieces, a bound that holds, and processes that end."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest

from server.operation.workers import OverloadedError, WorkerDiedError, Workers
from tests.operation.answering import PIECES, maker

ASKED = {"REQUEST_METHOD": "GET", "wsgi.errors": object()}


@pytest.fixture
def one(tmp_path: Path) -> Iterator[Workers]:
    with closing(Workers(maker, {"folder": str(tmp_path), "seconds": 2.0}, 1, waiting=1, patience_s=60)) as made:
        yield made


def asked(workers: Workers, path: str, body: bytes = b"") -> bytes:
    answered = workers.answer(ASKED | {"PATH_INFO": path}, body)
    assert answered.status == "200 OK"
    assert answered.headers == [("X-Path", path)]
    return b"".join(answered.pieces)


def lives(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def test_it_answers_in_another_process_and_again(one: Workers) -> None:
    (pid,) = one.pids()
    assert pid != os.getpid()
    for _ in range(3):
        assert asked(one, "/", b"sent ") == f"sent {pid}".encode()


def test_an_answer_comes_in_pieces_and_is_closed(one: Workers, tmp_path: Path) -> None:
    assert len(asked(one, "/streams")) == PIECES * 1_000_000
    assert (tmp_path / "closed").read_text() == str(PIECES)


def test_who_leaves_in_the_middle_frees_the_worker(one: Workers, tmp_path: Path) -> None:
    pids = one.pids()
    pieces = one.answer(ASKED | {"PATH_INFO": "/streams"}, b"").pieces
    assert len(next(pieces)) == 1_000_000
    pieces.close()  # type: ignore[attr-defined]
    assert int((tmp_path / "closed").read_text()) < PIECES
    assert asked(one, "/")
    assert one.pids() == pids


def test_over_the_bound_it_refuses_at_once(one: Workers) -> None:
    asked(one, "/")
    with ThreadPoolExecutor(2) as pool:
        busy = [pool.submit(asked, one, "/sleeps") for _ in range(2)]
        time.sleep(0.5)
        began = time.monotonic()
        with pytest.raises(OverloadedError):
            asked(one, "/")
        assert time.monotonic() - began < 0.5
        assert all(job.result() for job in busy)
    assert asked(one, "/")


def test_who_waited_too_long_is_refused(one: Workers) -> None:
    asked(one, "/")
    one.patience_s = 0.1
    with ThreadPoolExecutor(1) as pool:
        busy = pool.submit(asked, one, "/sleeps")
        time.sleep(0.5)
        with pytest.raises(OverloadedError):
            asked(one, "/")
        assert busy.result()
    one.patience_s = 60
    assert asked(one, "/")


def test_one_that_dies_is_replaced(one: Workers) -> None:
    before = one.pids()
    with pytest.raises(WorkerDiedError):
        asked(one, "/dies")
    assert asked(one, "/")
    assert one.pids() != before
    assert not lives(before[0])


def test_one_that_fails_in_the_middle_is_replaced(one: Workers) -> None:
    with pytest.raises(WorkerDiedError):
        asked(one, "/fails")
    assert asked(one, "/")


def test_one_that_is_silent_for_too_long_is_ended(one: Workers) -> None:
    asked(one, "/")
    one.longest_s = 0.2
    with pytest.raises(WorkerDiedError):
        asked(one, "/sleeps")
    one.longest_s = 60
    assert asked(one, "/")


def test_ctrl_c_is_the_serving_process_to_answer_and_closing_ends_all(tmp_path: Path) -> None:
    workers = Workers(maker, {"folder": str(tmp_path)}, 2)
    pids = workers.pids()
    asked(workers, "/")
    for pid in pids:
        os.kill(pid, signal.SIGINT)
    assert asked(workers, "/")
    workers.close()
    assert not any(map(lives, pids))
