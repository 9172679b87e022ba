"""Every screen, in every look: accessible, large enough to tap, readable in sunlight, no wider than the phone."""

from __future__ import annotations

from tests.web.measures import AXED, FAINT_MARKS, LEAST_MARK_CONTRAST, LOOKS, TURNS, faults_of, looks_of
from tests.web.phone import Phone
from tests.web.screens import every_screen

SCREENS = 46


def test_every_screen_is_accessible_tappable_and_readable(phone: Phone) -> None:
    problems, seen = [], []
    for name in every_screen(phone):
        seen.append(name)
        problems += faults_of(phone.page, name, "phone")
    assert len(seen) == len(set(seen)) >= SCREENS
    assert not problems, "\n".join(problems)
    assert phone.errors == []


def test_a_faint_frame_and_a_faint_mark_are_found(phone: Phone) -> None:
    page = phone.open()
    before = page.evaluate(FAINT_MARKS, LEAST_MARK_CONTRAST)
    assert before["measured"] > 0
    assert before["found"] == []
    page.evaluate(
        """async () => {
          const { dot, picture } = await import('/js/charts/drawing.js');
          const about = { width: 40, height: 40, title: 't', description: 'd', id: 'faint' };
          const drawn = dot(20, 20, { tone: 'faint' });
          drawn.style.fill = drawn.style.stroke = 'rgb(210 205 190)';
          document.querySelector('main').append(picture(about, drawn));
          document.querySelector('main #create-player').style.setProperty('border-color', 'rgb(220 215 200)');
        }"""
    )
    found = [one.split()[1] for one in page.evaluate(FAINT_MARKS, LEAST_MARK_CONTRAST)["found"]]
    assert sorted(found) == ["frame", "mark"]


def test_screens_in_a_row_see_every_look() -> None:
    turns = [looks_of(number) for number in range(TURNS)]
    assert {look for looks, _ in turns for look in looks} == set(LOOKS)
    assert {look for _, axed in turns for look in axed} == set(AXED)
    assert all(set(axed) <= set(looks) for looks, axed in turns)
