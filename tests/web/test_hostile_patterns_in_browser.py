"""No regular expression of the front end takes more time than grows with its input, in the browser that runs it."""

from __future__ import annotations

import json
from typing import Any

from playwright.sync_api import Browser

from tests.house.patterns import of_the_front_end, pumps

SLOW_MS = 500
TRY = """({pattern, flags, all, slow}) => {
  const expression = new RegExp(pattern, flags.replace('g', ''));
  let longest = [0, null, 0];
  for (const [head, part, tail] of all) {
    for (let size = 500; size <= 32000; size *= 4) {
      const words = head + part.repeat(size / part.length) + tail;
      const started = performance.now();
      expression.exec(words);
      words.replace(new RegExp(pattern, flags.includes('g') ? flags : `${flags}g`), '');
      const took = performance.now() - started;
      if (took > longest[0]) longest = [took, [head, part, tail], size];
      if (took > slow) return longest;
    }
  }
  return longest;
}"""


def test_the_time_of_each_grows_with_its_input(browser: Browser) -> None:
    found = list(of_the_front_end())
    assert len(found) >= 35
    page = browser.new_page()
    slow = []
    for place, pattern, flags in found:
        took: list[Any] = page.evaluate(
            TRY, {"pattern": pattern, "flags": flags, "all": pumps(pattern), "slow": SLOW_MS}
        )
        if took[0] > SLOW_MS:
            slow.append(
                f"{place}: /{pattern}/{flags} took {took[0]:.0f} ms at {took[2]} letters of {json.dumps(took[1])}"
            )
    bad: list[Any] = page.evaluate(
        TRY, {"pattern": r"^(.*\S)\s*[-\s]\s*(\S{1,2})$", "flags": "", "all": pumps("- "), "slow": SLOW_MS}
    )
    page.close()
    assert slow == []
    assert bad[0] > SLOW_MS
