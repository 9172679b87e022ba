"""Clocks: wrong ones order concurrent edits badly at worst; they refuse nothing and never pass the time of receipt."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from freezegun import freeze_time
from hypothesis import given
from hypothesis import strategies as st

from server.records.changes import effective_time, iso, parse_time
from server.records.validation import InvalidError

RECEIVED = datetime(2026, 5, 1, 12, 0, 0, 250_000, tzinfo=UTC)
NONE = timedelta(0)


def test_iso_is_utc_with_milliseconds_and_four_digits_of_year() -> None:
    assert iso(RECEIVED) == "2026-05-01T12:00:00.250Z"
    assert iso(datetime(9, 1, 2, 3, 4, 5, tzinfo=UTC)) == "0009-01-02T03:04:05.000Z"
    east = datetime(2026, 5, 1, 14, 0, tzinfo=UTC).astimezone(tz=None)
    assert iso(east) == "2026-05-01T14:00:00.000Z"


@pytest.mark.parametrize(
    ("words", "utc"),
    [
        ("2026-05-01T09:30:00.000Z", "2026-05-01T09:30:00.000Z"),
        ("2026-05-01T11:30:00+02:00", "2026-05-01T09:30:00.000Z"),
        ("2026-05-01T09:30:00", "2026-05-01T09:30:00.000Z"),
        ("2026-05-01", "2026-05-01T00:00:00.000Z"),
        ("0001-01-01T00:00:00Z", "0001-01-01T00:00:00.000Z"),
        ("9999-12-31T23:59:59.999Z", "9999-12-31T23:59:59.999Z"),
        ("+010000-01-01T00:00:00.000Z", "9999-01-01T00:00:00.000Z"),
        ("+275760-09-13T00:00:00.000Z", "9999-09-13T00:00:00.000Z"),
        ("-000001-06-01T00:00:00.000Z", "0001-06-01T00:00:00.000Z"),
    ],
)
def test_times_of_any_clock_are_read(words: str, utc: str) -> None:
    assert iso(parse_time(words, "client_time")) == utc


@pytest.mark.parametrize("words", ["", "noon", "2026-02-30T00:00:00Z", "12:00", "2026-05-01T25:00:00Z", "\ud800"])
def test_what_is_no_time_is_named(words: str) -> None:
    with pytest.raises(InvalidError, match=r"now: .*is not a time \(ISO 8601") as refused:
        parse_time(words, "now")
    assert refused.value.faults[0].field == "now"


@pytest.mark.parametrize(
    ("client_time", "offset", "expected"),
    [
        # in step: the device's time stands
        ("2026-05-01T11:59:00.000Z", NONE, "2026-05-01T11:59:00.000Z"),
        # three days slow, and the offset says so
        ("2026-04-28T11:59:00.000Z", timedelta(days=3), "2026-05-01T11:59:00.000Z"),
        # three days fast, and the offset says so
        ("2026-05-04T11:59:00.000Z", timedelta(days=-3), "2026-05-01T11:59:00.000Z"),
        # fast with an offset that does not say so (the clock was set back since): no later than received
        ("2026-05-04T11:59:00.000Z", NONE, "2026-05-01T12:00:00.250Z"),
        ("9999-12-31T23:59:59.999Z", NONE, "2026-05-01T12:00:00.250Z"),
        ("9999-12-31T23:59:59.999Z", timedelta(days=1), "2026-05-01T12:00:00.250Z"),
        # a clock that was never set: no earlier than the first day that clocks know
        ("0001-01-01T00:00:00.000Z", NONE, "1970-01-01T00:00:00.000Z"),
        ("0001-01-01T00:00:00.000Z", timedelta(days=-1), "2026-05-01T12:00:00.250Z"),
    ],
)
def test_effective_time_by_hand(client_time: str, offset: timedelta, expected: str) -> None:
    assert effective_time(client_time, offset, RECEIVED) == expected


@given(
    client=st.datetimes(timezones=st.just(UTC)),
    offset=st.timedeltas(timedelta(days=-800_000), timedelta(days=800_000)),
)
def test_effective_time_is_never_after_receipt_and_orders_as_text(client: datetime, offset: timedelta) -> None:
    found = effective_time(iso(client), offset, RECEIVED)
    assert "1970-01-01T00:00:00.000Z" <= found <= iso(RECEIVED)
    assert len(found) == 24


@given(
    days=st.floats(0, 36_000),
    gap=st.timedeltas(timedelta(milliseconds=1), timedelta(days=30)),
    wrong=st.timedeltas(timedelta(days=-5000), timedelta(days=5000)),
)
def test_two_edits_of_one_wrong_clock_keep_their_order(days: float, gap: timedelta, wrong: timedelta) -> None:
    """The device sends its own clock with the push, so its error cancels, whatever it is."""
    true_first = datetime(1990, 1, 1, tzinfo=UTC) + timedelta(days=days)
    true_second = true_first + gap
    received = true_second + timedelta(seconds=2)
    offset = received - (received + wrong)
    times = [effective_time(iso(moment + wrong), offset, received) for moment in (true_first, true_second)]
    assert times[0] <= times[1] <= iso(received)
    assert times == [iso(parse_time(iso(moment + wrong), "now") - wrong) for moment in (true_first, true_second)]


def test_freezing_the_clock_freezes_iso_now() -> None:
    with freeze_time("0009-01-02 03:04:05"):
        assert iso(datetime.now(UTC)) == "0009-01-02T03:04:05.000Z"
