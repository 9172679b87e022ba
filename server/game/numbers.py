"""Numbers in words: a rounded zero never has a sign. Twin: `web/js/game/numbers.js`."""

from __future__ import annotations


def plain(number: float, digits: int) -> str:
    """A number with so many decimals: "1.50", "-0.25", "0.00".

    >>> plain(-0.0004, 3), plain(-0.0006, 3)
    ('0.000', '-0.001')
    """
    return f"{number:z.{digits}f}"


def signed(number: float, digits: int) -> str:
    """A gain or loss: "+1.50", "-0.25", and "0.00" for what rounds to zero.

    >>> signed(0.0004, 3), signed(0.0006, 3)
    ('0.000', '+0.001')
    """
    words = plain(number, digits)
    return f"+{words}" if number > 0 and float(words) != 0 else words
