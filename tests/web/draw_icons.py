"""The icons, in the hand of the app: `python -m tests.web.draw_icons` writes `web/icons/`.

A ruled page with its red margin line, five strokes of a tally in graphite and the red oval around them. The drawing is
made of points that a seeded hand moves a little, so every run writes the same SVG; Chromium turns it into PNG files.
"""

from __future__ import annotations

import math
import random
from itertools import pairwise
from pathlib import Path
from typing import Final

from playwright.sync_api import sync_playwright

from tests.web.phone import CHROMIUM, CHROMIUM_ARGUMENTS

ICONS: Final = Path(__file__).resolve().parents[2] / "web" / "icons"
PAPER, RULE, INK, RED = "#faf6ec", "#d9d3c0", "#26241f", "#98151b"
SIZE: Final = 512
SEED: Final = 5
PNGS: Final = {
    "icon-192.png": (192, False),
    "icon-512.png": (512, False),
    "maskable-512.png": (512, True),
    "apple-touch-icon.png": (180, True),
}
"""Pixels, and whether the system cuts its own shape: then the paper fills the square and the drawing is smaller."""


def stroke(hand: random.Random, start: tuple[float, float], end: tuple[float, float], width: float) -> str:
    """A pencil stroke as an outline: pressed in its middle, lifted at its ends, never quite straight."""
    (x1, y1), (x2, y2) = start, end
    length = math.hypot(x2 - x1, y2 - y1)
    across = (-(y2 - y1) / length, (x2 - x1) / length)
    bend = hand.uniform(-6, 6)
    sides: list[tuple[float, float]] = []
    back: list[tuple[float, float]] = []
    for step in range(9):
        share = step / 8
        pressed = width * (0.55 + 0.45 * math.sin(math.pi * share)) / 2 + hand.uniform(-0.6, 0.6)
        off = bend * math.sin(math.pi * share)
        x, y = x1 + share * (x2 - x1) + off * across[0], y1 + share * (y2 - y1) + off * across[1]
        sides.append((x + pressed * across[0], y + pressed * across[1]))
        back.append((x - pressed * across[0], y - pressed * across[1]))
    return smooth([*sides, *reversed(back)])


def smooth(points: list[tuple[float, float]]) -> str:
    """A closed outline through the middles of its sides."""
    around = [*points, points[0], points[1]]
    middles = [((x1 + x2) / 2, (y1 + y2) / 2) for (x1, y1), (x2, y2) in pairwise(around)]
    curves = [f"Q{x:.0f} {y:.0f} {mx:.0f} {my:.0f}" for (x, y), (mx, my) in zip(around[1:], middles[1:], strict=False)]
    return f"M{middles[0][0]:.0f} {middles[0][1]:.0f}{''.join(curves)}Z"


def oval(hand: random.Random) -> str:
    """A line once around and a little farther, as a pencil goes."""
    points = []
    for step in range(27):
        angle = math.radians(200 + step * 15)
        grow = 1 + 0.0022 * step + hand.uniform(-0.012, 0.012)
        points.append((278 + 182 * grow * math.cos(angle), 262 + 140 * grow * math.sin(angle)))
    middles = [((x1 + x2) / 2, (y1 + y2) / 2) for (x1, y1), (x2, y2) in pairwise(points)]
    curves = [f"Q{x:.0f} {y:.0f} {mx:.0f} {my:.0f}" for (x, y), (mx, my) in zip(points[1:], middles[1:], strict=False)]
    return f"M{points[0][0]:.0f} {points[0][1]:.0f}{''.join(curves)}"


def drawing(corner: int, scale: float) -> str:
    """The SVG; `corner` rounds the paper, `scale` draws the page smaller around its middle."""
    hand = random.Random(SEED)
    tally = [stroke(hand, (200 + 50 * at, 178), (196 + 50 * at, 346), 24) for at in range(4)]
    tally.append(stroke(hand, (166, 326), (392, 196), 24))
    rules = "".join(f"M-60 {y}h632" for y in range(96, 480, 80))
    move = f' transform="translate({SIZE / 2 * (1 - scale):.0f} {SIZE / 2 * (1 - scale):.0f}) scale({scale})"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {SIZE} {SIZE}">'
        f'<rect width="{SIZE}" height="{SIZE}" rx="{corner}" fill="{PAPER}"/>'
        f"<g{move if scale != 1 else ''}>"
        f'<path d="{rules}" stroke="{RULE}" stroke-width="5"/>'
        f'<path d="M66 -90v692" stroke="{RED}" stroke-width="9"/>'
        f'<path d="{"".join(tally)}" fill="{INK}"/>'
        f'<path d="{oval(hand)}" fill="none" stroke="{RED}" stroke-width="17" stroke-linecap="round"/>'
        "</g></svg>"
    )


def main() -> None:
    """The SVG and the four PNG files."""
    ICONS.joinpath("icon.svg").write_text(drawing(96, 1) + "\n", encoding="utf-8")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=CHROMIUM_ARGUMENTS)
        for name, (pixels, cut) in PNGS.items():
            page = browser.new_page(viewport={"width": pixels, "height": pixels})
            svg = drawing(0 if cut else 96, 0.8 if cut else 1)
            page.set_content(f"<style>*{{margin:0}}svg{{display:block;width:{pixels}px}}</style>{svg}")
            page.screenshot(path=ICONS / name, omit_background=True)
            page.close()
        browser.close()


if __name__ == "__main__":
    main()
