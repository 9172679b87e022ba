"""Measures of a shown screen, in every look that a reader may have it in: accessibility rules, sizes of targets,
contrast of text, width; and its picture."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal

from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Page

from tests import tiers

LEAST_TARGET_PX: Final = 48
LEAST_CONTRAST: Final = 7.0
"""WCAG 2.2, success criterion 1.4.6 (enhanced)."""
LEAST_MARK_CONTRAST: Final = 3.0
"""WCAG 2.2, success criterion 1.4.11: what is drawn, and the frames of what is tapped."""
AXE_OPTIONS: Final = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "resultTypes": ["violations"],  # to list every element that passes takes longer than the rules themselves
}

SMALL_TARGETS: Final = """(least) => {
  const inside = document.querySelector('dialog[open]') ?? document;
  return [...inside.querySelectorAll('a, button, select, input, textarea, summary')]
    .filter((element) => element.checkVisibility({ visibilityProperty: true }))
    .map((element) => ({ element, box: element.getBoundingClientRect() }))
    .filter(({ box }) => box.width > 0 && (box.width < least - 0.01 || box.height < least - 0.01))
    .map(({ element, box }) => {
      const size = `${box.width.toFixed(1)} x ${box.height.toFixed(1)}`;
      return `${element.tagName} ${element.id} "${element.textContent.slice(0, 30)}" ${size}`;
    });
}"""

COLOURS: Final = """
  const canvas = new OffscreenCanvas(1, 1).getContext('2d', { willReadFrequently: true });
  const known = new Map(); // to read a pixel back takes longer than all else here
  const rgba = (colour) => {
    if (!known.has(colour)) known.set(colour, pixel(colour));
    return known.get(colour);
  };
  const pixel = (colour) => {
    canvas.clearRect(0, 0, 1, 1);
    canvas.fillStyle = colour;
    canvas.fillRect(0, 0, 1, 1);
    return [...canvas.getImageData(0, 0, 1, 1).data];
  };
  const light = ([r, g, b]) => {
    const part = (value) => { const c = value / 255; return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4; };
    return 0.2126 * part(r) + 0.7152 * part(g) + 0.0722 * part(b);
  };
  const papers = new Map();
  const behind = (element) => {
    if (!element) return rgba(getComputedStyle(document.documentElement).backgroundColor);
    if (!papers.has(element)) {
      const colour = rgba(getComputedStyle(element).backgroundColor);
      papers.set(element, colour[3] === 255 ? colour : behind(element.parentElement));
    }
    return papers.get(element);
  };
"""
"""For the scripts below: a colour as numbers, how light it is, what lies behind an element."""

LOW_CONTRAST: Final = (
    f"(least) => {{ {COLOURS}"
    + """
  const inside = document.querySelector('dialog[open]') ?? document.body;
  const walker = document.createTreeWalker(inside, NodeFilter.SHOW_TEXT);
  const found = [];
  let texts = 0;
  while (walker.nextNode()) {
    const element = walker.currentNode.parentElement;
    if (!walker.currentNode.data.trim() || !element.checkVisibility({ visibilityProperty: true })) continue;
    texts += 1;
    const style = getComputedStyle(element);
    const colour = element instanceof SVGElement ? style.fill : style.color;
    const pair = [light(rgba(colour)), light(behind(element))].sort((a, b) => b - a);
    const ratio = (pair[0] + 0.05) / (pair[1] + 0.05);
    if (ratio < least) found.push(`${ratio.toFixed(2)} "${walker.currentNode.data.trim().slice(0, 40)}"`);
  }
  return { found, texts };
}"""
)

FAINT_MARKS: Final = (
    f"(least) => {{ {COLOURS}"
    + """
  const inside = document.querySelector('dialog[open]') ?? document.body;
  const ratio = (one, other) => {
    const pair = [light(one), light(other)].sort((a, b) => b - a);
    return (pair[0] + 0.05) / (pair[1] + 0.05);
  };
  const over = ([r, g, b, a], share, paper) => [r, g, b].map((part, index) => {
    const alpha = (a / 255) * share;
    return part * alpha + paper[index] * (1 - alpha);
  });
  const painted = (style, paper) => [['fill', style.fillOpacity], ['stroke', style.strokeOpacity]]
    .filter(([name]) => style[name] !== 'none' && (name === 'fill' || parseFloat(style.strokeWidth) > 0))
    .map(([name, share]) => ratio(over(rgba(style[name]), Number(share), paper), paper));
  const faint = (elements, measure, name) => elements
    .filter((element) => element.checkVisibility({ visibilityProperty: true }))
    .map((element) => [element, measure(element)])
    .filter(([, found]) => found < least)
    .map(([element, found]) => {
      return `${found.toFixed(2)} ${name} ${element.tagName} ${element.getAttribute('class')} ${element.id}`;
    });
  const marks = [...inside.querySelectorAll('svg :is(MARKS)')];
  const edge = (element) => getComputedStyle(element).borderBottomColor;
  const framed = ({ borderBottomStyle: style, borderBottomWidth: width, borderBottomColor: colour }) =>
    style !== 'none' && parseFloat(width) > 0 && rgba(colour)[3] > 0;
  const sides = (element) => getComputedStyle(element).borderLeftWidth;
  const frames = [...inside.querySelectorAll('button, .button, select, input, textarea, .strip a')]
    .filter((element) => element.matches('input, select, textarea') || sides(element) !== '0px')
    .filter((element) => framed(getComputedStyle(element))); // a list's rule under a row is no frame
  return {
    found: [
      ...faint(marks, (one) => Math.max(0, ...painted(getComputedStyle(one), behind(one.ownerSVGElement))), 'mark'),
      ...faint(frames, (one) => ratio(rgba(edge(one)), behind(one.parentElement)), 'frame'),
    ],
    measured: marks.length + frames.length,
  };
}""".replace(
        "MARKS",
        ".whisker, .dot, .tick-mark, .curve, .finish, .next-shot, .target path, .tally, .hatch, .gain-bar, .loss-bar,"
        " .zero-line, .axis, .box-mark, .score-bar, .bracket, .ball, .line-of-play, .lane, .depth, .way, .aim-line,"
        " .aim-ring, .landing, .ink-line",
    )
)
"""What is drawn to be read or tapped and is too faint: the marks of pictures, the frames of keys and fields. Lines of a
grid, bands and shaded grounds are not among them: the words and the marks say the same."""

TOO_WIDE: Final = """() => {
  const room = document.documentElement.clientWidth;
  const scrollers = ['html', 'body', 'main', 'dialog[open]'].map((name) => document.querySelector(name));
  if (scrollers.every((element) => !element || element.scrollWidth <= element.clientWidth + 1)) return [];
  return [...document.querySelectorAll('body *')]
    .map((element) => ({ element, right: element.getBoundingClientRect().right }))
    .filter(({ element, right }) => !element.closest('.strip') && right > room + 1)
    .map(({ element, right }) => `${element.tagName}.${element.className} ${right.toFixed(0)} > ${room}`);
}"""

CUT: Final = """() => [...document.querySelectorAll('main *, #top *, #bar *, dialog[open] *')]
  .filter((element) => element instanceof HTMLElement && element.childElementCount === 0 && element.textContent.trim())
  .filter((element) => element.checkVisibility() && !element.closest('.hidden, .cut, [aria-hidden=true], input, select, textarea, option'))
  .filter((element) => {
    const style = getComputedStyle(element);
    const hides = ['hidden', 'clip'].includes(style.overflowX) && style.position !== 'absolute';
    return hides && (element.scrollWidth > element.clientWidth + 1 || element.scrollHeight > element.clientHeight + 1);
  })
  .map((element) => `${element.tagName}.${element.className} "${element.textContent.slice(0, 30)}"`)"""  # noqa: E501
"""Words that do not fit what holds them."""

OVERLAPPING: Final = """() => {
  const inside = document.querySelector('dialog[open]') ?? document.body;
  const stickyBox = (element) => element && (getComputedStyle(element).position === 'sticky' ? element : stickyBox(element.parentElement));
  const targets = [...inside.querySelectorAll('a, button, select, input, textarea, summary')]
    .filter((element) => element.checkVisibility({ visibilityProperty: true }))
    .map((element) => ({ element, box: element.getBoundingClientRect(), room: stickyBox(element) ?? element.closest('main, header, footer, dialog') }))
    .filter(({ box }) => box.width > 0);
  const found = [];
  for (const [place, one] of targets.entries()) {
    for (const other of targets.slice(place + 1)) {
      if (one.room !== other.room || one.element.contains(other.element) || other.element.contains(one.element)) continue;
      const wide = Math.min(one.box.right, other.box.right) - Math.max(one.box.left, other.box.left);
      const high = Math.min(one.box.bottom, other.box.bottom) - Math.max(one.box.top, other.box.top);
      if (wide > 2 && high > 2) found.push([one, other].map(({ element }) => `${element.tagName}#${element.id} "${element.textContent.slice(0, 20)}"`).join(' over '));
    }
  }
  return found;
}"""  # noqa: E501
"""Targets that lie over each other; what scrolls on under a head or a button that stays is measured by itself."""

INSIDE: Final = """() => [...document.querySelectorAll('svg[role=img]')].filter((one) => one.checkVisibility()).flatMap((picture) => {
  const room = picture.getBoundingClientRect();
  return [...picture.querySelectorAll('text, .dot, .band, .tick-mark')].map((mark) => [mark, mark.getBoundingClientRect()])
    .filter(([, box]) => box.left < room.left - 1 || box.right > room.right + 1 || box.top < room.top - 1 || box.bottom > room.bottom + 1)
    .map(([mark, box]) => `${mark.tagName} ${mark.textContent} ${box.left.toFixed(0)}..${box.right.toFixed(0)} of ${room.left.toFixed(0)}..${room.right.toFixed(0)}`);
})"""  # noqa: E501
"""Marks of a picture that reach out of it."""


@dataclass(frozen=True)
class Look:
    """How a reader has a screen: its size in CSS pixels, the theme, how many times larger the text is set."""

    width: int
    height: int
    theme: Literal["light", "dark"] = "light"
    zoom: int = 1
    contrast: bool = False
    """The device asks for more contrast and paints with colours of its own."""

    @property
    def folder(self) -> str:
        """Where the pictures of this look lie."""
        return (
            f"{self.theme}-{self.width}" + (f"-zoom-{self.zoom}" if self.zoom > 1 else "") + "-contrast" * self.contrast
        )


PHONE: Final = Look(390, 844)
LOOKS: Final = (
    PHONE,
    Look(390, 844, "dark"),
    Look(1280, 800),
    Look(1280, 800, "dark"),
    Look(320, 568),
    Look(390, 844, zoom=2),
    Look(1280, 800, zoom=2),
    Look(768, 1024),
    Look(1920, 1080),
    Look(390, 844, contrast=True),
)

AXED: Final = LOOKS[:4]
"""Where axe's rules are run too: both themes, narrow and wide; sizes and themes are all that its rules look at."""

NARROW: Final = (LOOKS[4], LOOKS[5])
"""The narrowest look, and the phone with text of twice the size."""

IN_TURN: Final = tuple(look for look in LOOKS if look != PHONE and look not in NARROW)
"""The others. By default a screen has one of these or of `NARROW`, the next screen the next."""

TURNS: Final = 2 * len(IN_TURN)

_walked: Final[Counter[str]] = Counter()
"""How many screens of a group were measured so far."""

PICTURES: Final = Path(__file__).resolve().parents[2] / ".artifacts" / "screens"

DRAWN: Final = """async (size) => {
  document.documentElement.style.fontSize = size;
  document.querySelector('dialog[open]')?.scrollTo(0, 0);
  const frame = () => new Promise((resolve) => requestAnimationFrame(resolve));
  await frame(); // styles and observers of this size
  await frame(); // pictures are drawn in the frame after
  await frame(); // and what they moved
}"""


def put_on(page: Page, look: Look, before: Look | None = None) -> None:
    """Shows the page as it is now in another look, as turning the phone and the settings of a device do; a sheet from
    its top on: further down its button may lie over half a field, until it is scrolled on. `before`: the look that it
    is known to be in."""
    if before is None or (look.theme, look.contrast) != (before.theme, before.contrast):
        page.emulate_media(
            color_scheme=look.theme,
            reduced_motion="reduce",
            contrast="more" if look.contrast else "no-preference",
            forced_colors="active" if look.contrast else "none",
        )
    if before is None or (look.width, look.height) != (before.width, before.height):
        page.set_viewport_size({"width": look.width, "height": look.height})
    page.evaluate(DRAWN, f"{look.zoom * 100}%")


def looks_of(number: int) -> tuple[tuple[Look, ...], tuple[Look, ...]]:
    """The looks in which the screen of a number is measured, and those of them in which axe's rules are run too.

    All of them in the long tier; else the phone and one more, of `NARROW` every other time, of the rest the next one in
    turn, and one run of axe in it or on the phone: `TURNS` screens in a row see every look, and axe every one of its
    own.
    """
    if tiers.LONG:
        return LOOKS, AXED
    turns = NARROW if number % 2 else IN_TURN
    turn = turns[number // 2 % len(turns)]
    return (PHONE, turn), (turn if turn in AXED else PHONE,)


def faults_of(page: Page, name: str, group: str) -> list[str]:
    """What is wrong with the screen that is shown, in the looks of its turn, last as a phone shows it: it stays so.

    A picture of a look in which something is wrong goes to a folder of the group, in the long tier one of each look."""
    found = []
    looks, axed = looks_of(_walked[group])
    _walked[group] += 1
    before = None
    for look in sorted(looks, key=lambda look: look == PHONE):
        put_on(page, look, before)
        before = look
        faults = faults_in_look(page) + (violations(page) if look in axed else [])
        if tiers.LONG or faults:
            take_picture(page, PICTURES / group / look.folder, name)
        found += [f"{look.folder}, {name}: {fault}" for fault in faults]
    return found


def violations(page: Page) -> list[str]:
    """The rules of axe that the screen breaks, and where."""
    if not page.evaluate("() => 'axe' in window"):  # once a document: to compile it takes as long as its rules
        page.evaluate(AXE_SCRIPT)
    run = f"async () => (await axe.run({json.dumps(AXE_OPTIONS)})).violations"
    broken: list[dict[str, Any]] = page.evaluate(run)
    return [f"axe {one['id']}: {one['help']} {[node['html'][:120] for node in one['nodes'][:3]]}" for one in broken]


MEASURES: Final = f"""async ([target, contrast, mark]) => ({{
  small: ({SMALL_TARGETS})(target),
  contrast: ({LOW_CONTRAST})(contrast),
  drawn: ({FAINT_MARKS})(mark),
  wide: ({TOO_WIDE})(),
  cut: ({CUT})(),
  overlapping: ({OVERLAPPING})(),
  outside: ({INSIDE})(),
}})"""
"""All of them at once: each way to the browser takes longer than what is measured there."""


def faults_in_look(page: Page) -> list[str]:
    """Small targets, faint text and marks, what is too wide, marks out of their picture, as the screen is now."""
    measured = page.evaluate(MEASURES, [LEAST_TARGET_PX, LEAST_CONTRAST, LEAST_MARK_CONTRAST])
    assert measured["contrast"]["texts"] > 3, "no text was measured"
    found = [f"small target {one}" for one in measured["small"]]
    found += [f"contrast {one}" for one in measured["contrast"]["found"]]
    found += [f"faint {one}" for one in measured["drawn"]["found"]]
    found += [f"too wide {one}" for one in measured["wide"]]
    found += [f"cut {one}" for one in measured["cut"]]
    found += [f"overlapping {one}" for one in measured["overlapping"]]
    return found + [f"outside {one}" for one in measured["outside"]]


def take_picture(page: Page, folder: Path, name: str) -> None:
    """A screenshot under the name of the screen."""
    folder.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=folder / f"{name.replace(', ', '-').replace(' ', '-')}.png")
