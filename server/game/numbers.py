"""Numbers in words: halves round away from zero, as on the phone, and a rounded zero never has a sign. Twin:
`web/js/game/numbers.js`."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from typing import Final

LARGEST_EXACT: Final = 1e15
"""Beyond it a number has no decimals to round."""


def plain(number: float, digits: int) -> str:
    """A number with so many decimals: "1.50", "-0.25", "0.00".

    >>> plain(-0.0004, 3), plain(-0.0006, 3)
    ('0.000', '-0.001')
    >>> plain(242.5, 0), plain(243.5, 0), plain(-0.5, 0), plain(0.125, 2)
    ('243', '244', '-1', '0.13')
    """
    if not abs(number) < LARGEST_EXACT:
        return f"{number:z.{digits}f}"
    rounded = Decimal(float(number)).quantize(Decimal(1).scaleb(-digits), ROUND_HALF_UP)
    return f"{rounded:z.{digits}f}"


def two_figures(count: int) -> str:
    """A number of shots still needed, rounded up: two figures are all that it carries.

    >>> two_figures(9), two_figures(123), two_figures(33_201)
    ('9', '130', '34,000')
    """
    step = 10 ** max(0, len(str(count)) - 2)
    return f"{-(-count // step) * step:,}"


def signed(number: float, digits: int) -> str:
    """A gain or loss: "+1.50", "-0.25", and "0.00" for what rounds to zero.

    >>> signed(0.0004, 3), signed(0.0006, 3)
    ('0.000', '+0.001')
    """
    words = plain(number, digits)
    return f"+{words}" if number > 0 and float(words) != 0 else words
