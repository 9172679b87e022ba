"""Rounds that are on the server already when a phone comes."""

from __future__ import annotations

from typing import Any

from tests.records.made import Season, default_clubs, par_four
from tests.web.phone import Phone, Server


def with_round(phone: Phone, server: Server, name: str, played: tuple[int, ...], **fields: Any) -> str:
    """A phone of a player with one round of 18 holes, each a par 4 of 400 yd; those `played` took four strokes. The
    round's id."""
    made = Season(name)
    clubs = default_clubs(made)
    holes = dict.fromkeys(range(1, 19), (4, 400.0))
    round_id = made.round("one", holes, **({"kind": "casual", "bag": list(clubs.values())} | fields))
    for hole in played:
        par_four(made, round_id, clubs, hole)
    body = {"device_id": "phone", "changes": made.changes}
    server.post(f"/api/players/{made.player_id}/changes", body)
    phone.open()
    phone.page.click(f"#player-{made.player_id}")
    phone.page.wait_for_selector(".go-on, #new-round")
    return round_id


def round_of(phone: Phone, round_id: str) -> dict[str, Any]:
    """The body of a round as this phone holds it."""
    return next(one["body"] for one in phone.live("round") if one["record_id"] == round_id)


def changes_of(phone: Phone) -> list[dict[str, Any]]:
    """The changes that this phone has made itself."""
    return [one for one in phone.all_of("changes") if one["device_id"] != "phone"]
