"""Numbers in words: a rounded zero never has a sign. Twin: `web/js/game/numbers.js`."""

from __future__ import annotations


def plain(number: float, digits: int) -> str:
    """A number with so many decimals: "1.50", "-0.25", "0.00".

    >>> plain(-0.0004, 3), plain(-0.0006, 3)
    ('0.000', '-0.001')
    """
    return f"{number:z.{digits}f}"


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
