"""Lengths, sides and shares as the screens of patterns and distances write them."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from tests.web.evidence_pages import change_of, demo_player, push
from tests.web.phone import Server

METRES_A_YARD = 0.9144
SIDES = {"right": ("left", "right"), "long": ("short", "long"), "offline_deg": ("left", "right")}


def fixed(value: float, decimals: int) -> str:
    """The size of a number as the browser rounds it: a half of the last place upwards."""
    return str(Decimal(abs(value)).quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_UP))


def percent(share: float) -> str:
    """A share as the screens write it."""
    if 0 < share < 0.005:
        return "under 1 %"
    return "over 99 %" if 0.995 < share < 1 else f"{fixed(share * 100, 0)} %"


def to_side(value: float, name: str, decimals: int = 1, mark: str = "") -> str:
    """A signed figure as the screen writes it: "3.6 short"."""
    size = fixed(value, decimals)
    return f"0{mark}" if float(size) == 0 else f"{size}{mark} {SIDES[name][value > 0]}"


def side_range(low: float, high: float, name: str, mark: str = "") -> str:
    """Both ends of an interval; the side is named once when they share it."""
    ends = [to_side(value, name, 1, mark) for value in (low, high)]
    if ends[0].split()[1:] and ends[0].split()[1:] == ends[1].split()[1:]:
        ends[0] = ends[0].split()[0]
    return " to ".join(ends)


def centre(figure: dict[str, Any], name: str, factor: float = 1.0) -> str:
    """A mean over its interval as a cell shows it."""
    if figure["value"] is None:
        return "–"
    value = to_side(figure["value"] * factor, name)
    if figure["low"] is None:
        return f"{value} not enough data"
    return f"{value} {side_range(figure['low'] * factor, figure['high'] * factor, name)}"


def spread(figure: dict[str, Any]) -> str:
    if figure["low"] is None:
        return f"{fixed(figure['value'], 1)} not enough data"
    return f"{fixed(figure['value'], 1)} {fixed(figure['low'], 1)} to {fixed(figure['high'], 1)}"


def share(figure: dict[str, Any]) -> str:
    if figure["low"] is None:
        return f"{percent(figure['value'])} not enough data"
    return f"{percent(figure['value'])} {percent(figure['low'])} to {percent(figure['high'])}"


def metric(server: Server) -> None:
    """The invented player reads metres."""
    player = demo_player(server)
    last = [change for change in server.log(player) if change["record_id"] == player][-1]
    body = last["body"] | {"units": "metres"}
    push(server, [change_of(player, "player", body, last["change_id"], record=player)])
