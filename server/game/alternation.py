"""Which club on trial a hole of a practice round is for: random in balanced blocks, the same on every device.

A player who picks the club for each shot picks easier shots for the one that is trusted. So while clubs are on trial,
each hole of a practice round has its club before the shot is seen: in each block of twice as many holes as clubs every
club has two, in an order drawn from the clubs' and the round's ids. Neither the order in which holes are played nor a
shot put in later changes it. Twin of `web/js/game/alternation.js`.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

HOLES_A_CLUB: Final = 2
"""Holes that each club has in a block."""

_WORD: Final = 0xFFFFFFFF


def club_of_hole(club_ids: Iterable[str], round_id: str, hole: int) -> str:
    """The id of the club that a hole of a practice round is for; `club_ids`: two or more, in any order.

    ValueError for fewer than two clubs or a hole below 1.

    >>> {club_of_hole(("iron a", "iron b"), "round 1", hole) for hole in (1, 2, 3, 4)} == {"iron a", "iron b"}
    True
    """
    clubs = sorted(set(club_ids))
    if len(clubs) < 2:
        raise ValueError(f"club_ids: {len(clubs)} clubs, two at least are needed to alternate")
    if hole < 1:
        raise ValueError(f"hole: {hole} is below 1")
    size = HOLES_A_CLUB * len(clubs)
    block, place = divmod(hole - 1, size)
    of_block = f"{'|'.join(clubs)} {round_id} {block}"
    order = sorted(range(size), key=lambda slot: (mixed(f"{of_block} {slot}"), slot))
    return clubs[order[place] % len(clubs)]


def mixed(text: str) -> int:
    """A number from 0 to 2^32 - 1 that looks random: FNV-1a over UTF-8, then the finalizer of MurmurHash3 (both are
    public algorithms that browsers can repeat without waiting)."""
    value = 0x811C9DC5
    for byte in text.encode():
        value = (value ^ byte) * 0x01000193 & _WORD
    value = (value ^ value >> 16) * 0x85EBCA6B & _WORD
    value = (value ^ value >> 13) * 0xC2B2AE35 & _WORD
    return value ^ value >> 16
