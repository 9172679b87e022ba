"""The main flow of the app: load, player, bag, course with a map, round, shots, reload and restart without a server,
send, evidence, plan, print. The same in every engine."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any, Final

from tests.web.conftest import start_server
from tests.web.engines.engine import WAIT_S, Engine, EngineError, until
from tests.web.evidence_pages import change_of
from tests.web.phone import ALL, KEPT, Server
from tests.web.write_asset_list import files

PLAYER: Final = "Robin Vale"
PARS: Final = "443545344"
LENGTHS: Final = ("388", "412", "171", "534", "401", "556", "188", "367", "429")
LONG: Final = (4, -12, 0, 9, -3, 6, 0, -8, 2)
RIGHT: Final = (-6, 11, 0, -2, 14, -9, 0, 5, -3)
"""Where the drives of an earlier round finished beside their target, yards."""
SENT: Final = "saved and sent"


class Flow:
    """The steps, one after another, in one engine and with a server of its own."""

    def __init__(self, engine: Engine, folder: Path) -> None:
        self.engine, self.folder = engine, folder
        self.server: Server = start_server(folder)
        self.port = self.server.port
        self.seconds: dict[str, float] = {}
        self.player = ""

    def run_all(self) -> None:
        """All steps."""
        for step in (
            self.load,
            self.sign_up,
            self.add_club,
            self.make_course,
            self.play,
            self.reload_without_a_server,
            self.restart_without_a_server,
            self.close_round,
            self.send,
            self.see_evidence,
            self.see_plan,
            self.print_plan,
            self.see_evidence_without_a_server,
        ):
            began = time.monotonic()
            try:
                step()
            except EngineError as error:
                raise EngineError(f"{step.__name__}, after {self.seconds}: {error}") from error
            self.seconds[step.__name__] = round(time.monotonic() - began, 1)

    def stop_server(self) -> None:
        """The network goes: nobody answers at the address any more."""
        self.server.stop()

    def start_server(self) -> None:
        """It comes back at the same address."""
        self.server = start_server(self.folder, self.port)

    # What a page shows.

    def wait(self, selector: str, words: str = "") -> None:
        """Until an element is shown, and contains the words."""
        named, wanted = json.dumps(selector), json.dumps(words)
        look = f"""return [...document.querySelectorAll({named})].some((one) => one.checkVisibility()
          && one.textContent.includes({wanted}));"""
        try:
            until(lambda: self.engine.run(look), f"{selector} is shown {words and 'with ' + words}")
        except EngineError as error:
            shown = self.engine.run("return document.body.innerText.slice(0, 600);")
            raise EngineError(f"{error}; the page shows: {shown}; errors: {self.engine.errors}") from error

    def text(self, selector: str) -> str:
        """The words of an element."""
        return str(self.engine.run(f"return document.querySelector({json.dumps(selector)}).textContent;"))

    def count(self, selector: str) -> int:
        """How many there are."""
        return int(self.engine.run(f"return document.querySelectorAll({json.dumps(selector)}).length;"))

    def go(self, address: str, wait: str) -> None:
        """To a screen by its address, as a link goes there."""
        self.engine.run(f"location.hash = '#/' + {json.dumps(address)};")
        self.wait(wait)

    def tap(self, selector: str, then: str = "") -> None:
        """Tap, and wait for what comes."""
        self.engine.click(selector)
        if then:
            self.wait(then)

    def rows(self, store: str) -> list[dict[str, Any]]:
        """Everything in a store of the local database."""
        found: list[dict[str, Any]] = self.engine.run(f"return (await ({ALL})(['{store}']))[0];")
        return found

    def open(self, wait: str, hash_: str = "") -> None:
        """The app from its address."""
        self.engine.open(f"http://127.0.0.1:{self.port}/{hash_}")
        self.wait(wait)

    def sent(self) -> None:
        """Until the app shows that everything is on the server."""
        self.wait("#saving", SENT)

    # The steps.

    def load(self) -> None:
        self.open("#create-player")
        assert self.engine.run("return isSecureContext && 'serviceWorker' in navigator;"), (
            "the address counts as secure"
        )

    def sign_up(self) -> None:
        self.engine.fill("#new-name", PLAYER)
        self.tap("#create-player", "#new-round")
        self.sent()
        (self.player,) = [row["record_id"] for row in self.rows("records") if row["kind"] == "player"]

    def add_club(self) -> None:
        self.go("bag", "#new-club")
        before = self.count(".list-row")
        self.tap("#new-club", "#club-label")
        self.engine.fill("#club-label", "chipper")
        self.tap("#save-club")
        self.wait("[role=status]", "chipper saved")
        self.go("bag", "#new-club")
        self.wait(".list-row", "chipper")
        assert self.count(".list-row") == before + 1

    def make_course(self) -> None:
        self.go("courses/new", "#course-name")
        self.engine.fill("#course-name", "Heron Marsh (invented)")
        self.tap("#hole-count-9")
        self.wait("#length-9")
        self.engine.fill("#pars", PARS)
        self.engine.fill("#length-1", LENGTHS[0])
        self.engine.run(f"""for (const [place, length] of {json.dumps(LENGTHS)}.entries()) {{
          const field = document.getElementById(`length-${{place + 1}}`);
          if (place === 0) continue; // typed by keys already, as all of them would be
          field.value = length;
          for (const name of ['input', 'change']) field.dispatchEvent(new Event(name, {{ bubbles: true }}));
        }}""")
        course = "main .list-row[href^='#/courses/']"
        self.tap("#save-course", course)
        self.tap(course, "#course-maps")
        self.tap("#course-maps", "#map-1")
        self.tap("#map-1", "#map-wide-1")
        for name, value in (("map-wide-1", "34"), ("map-depth", "28"), ("map-width", "24")):
            self.engine.fill(f"#{name}", value)
        self.tap("#save-map", "#to-plan")

    def play(self) -> None:
        self.go("new", "#start-round")
        self.tap("#kind-practice")
        self.tap("#start-round", "#hit")
        self.hit(1)
        self.type_distance("154", "rough")
        self.hit(2)
        self.hit(3)
        self.hit(0, "#holed")
        self.wait("#turned", "Hole 1")
        self.tap("#hole-1", ".done-words")

    def hit(self, shots: int, button: str = "#hit") -> None:
        """A tap as soon as it means a shot of its own; then so many are shown."""
        self.wait('.actions[aria-busy="false"]')
        self.tap(button)
        until(lambda: self.count(".shot") == shots, f"{shots} shots are shown")

    def type_distance(self, digits: str, lie: str) -> None:
        self.tap(f"#lie-{lie}")
        for digit in digits:
            self.tap(f"#key-{digit}")

    def reload_without_a_server(self) -> None:
        self.sent()
        self.engine.run(f"await ({KEPT})();")
        self.stop_server()
        address = self.engine.run("return location.hash;")
        self.open(".shot", str(address))
        assert self.count(".shot") == 4
        self.wait('.actions[aria-busy="false"]')
        self.tap("#next", "#hit")
        until(lambda: self.count(".shot") == 0, "the next hole is shown")
        self.hit(1)

    def restart_without_a_server(self) -> None:
        address = self.engine.run("return location.hash;")
        self.engine.restart()
        self.open(".shot", str(address))
        assert self.count(".shot") == 1
        self.go("", "#new-round")
        self.wait("#unsent-reminder", "not sent yet, on this phone alone")
        self.go("saving", "#storage-words")
        assert "not sent yet" in self.text("#sending-words")
        shots = [row for row in self.rows("records") if row["kind"] == "shot"]
        assert len(shots) == 5

    def close_round(self) -> None:
        self.go(f"round/{self.round()}/card", "#close-round")
        self.tap("#close-round", "#close-stop")
        self.tap("#close-stop")
        self.wait("#reopen")

    def round(self) -> str:
        """The id of the one round."""
        (found,) = [row["record_id"] for row in self.rows("records") if row["kind"] == "round"]
        return str(found)

    def send(self) -> None:
        self.start_server()
        self.another_device()
        self.go("saving", "#send-now")
        self.tap("#send-now")
        self.sent()
        kinds = [change["kind"] for change in self.server.log(self.player)]
        assert kinds.count("shot") >= 5
        assert self.rows("outbox") == []
        self.go("", "#new-round")
        assert self.count("#unsent-reminder .notice") == 0

    def another_device(self) -> None:
        """A round that the player recorded elsewhere: enough drives to plan with."""
        records = self.rows("records")
        course = next(row for row in records if row["kind"] == "course")
        driver = next(row for row in records if row["kind"] == "club" and row["body"]["label"] == "Driver")
        tees = course["body"]["tees"][0]
        round_ = {"played_on": "2026-05-01", "kind": "practice", "course_id": course["record_id"], "tees": tees["name"]}
        played = change_of(self.player, "round", round_ | {"holes": tees["holes"], "bag": [], "closed": True})
        drive = {"round_id": played["record_id"], "ball": 1, "order": 1, "lie": "tee", "club_id": driver["record_id"]}
        drive |= {"holed": False, "swing": "full", "target_yd": 240, "penalty_strokes": 0}
        drives = [
            drive | {"hole": hole, "distance_yd": int(length), "long_yd": long, "right_yd": right}
            for hole, length, long, right in zip(range(1, 10), LENGTHS, LONG, RIGHT, strict=True)
            if PARS[hole - 1] != "3"
        ]
        changes = [played, *(change_of(self.player, "shot", body) for body in drives)]
        answer = self.server.post(f"/api/players/{self.player}/changes", {"device_id": "another", "changes": changes})
        assert answer["quarantined"] == []

    def see_evidence(self) -> None:
        self.go(f"evidence/{self.player}/overview", ".evidence-table")
        summary = self.server.get(f"/api/players/{self.player}/strokes-gained?by=club")
        shown = self.engine.run(
            "return [...document.querySelectorAll('.club-table tbody tr')].map((row) => row.cells[0].innerText);"
        )
        assert len(shown) == len(summary["rows"]) > 0
        for row in summary["rows"]:
            assert any(words.startswith(row["club"]) for words in shown), (row["club"], shown)

    def see_plan(self) -> None:
        self.go(f"evidence/{self.player}/plan", "#plan-best")
        (course,) = self.server.get(f"/api/players/{self.player}/plans")["courses"]
        query = f"course_id={course['course_id']}&hole=1&tees={course['tees'][0]['name']}"
        plan = self.server.get(f"/api/players/{self.player}/tee-plan?{query}")
        best = plan["options"][0]["name"]
        assert self.text("#plan-best").lower().startswith(best.lower())
        self.wait("main svg")

    def print_plan(self) -> None:
        self.engine.run("globalThis.prints = 0; globalThis.print = () => { globalThis.prints += 1; };")
        self.go(f"evidence/{self.player}/round-plan", ".round-plan tbody tr")
        self.tap("#print-plan")
        assert self.engine.run("return prints;") == 1
        pdf = self.engine.pdf()
        assert pdf is None or (pdf.startswith(b"%PDF-") and len(pdf) > 5_000)

    def see_evidence_without_a_server(self) -> None:
        """A view that was never opened: its answer was kept after the exchange."""
        self.go("", "#new-round")
        kept = "['/priorities', '/putting', '/strokes-gained?by=setup'].some((one) => row.path.endsWith(one))"
        look = f"const [rows] = await ({ALL})(['answers']); return rows.filter((row) => {kept}).length === 3;"
        until(lambda: self.engine.run(look), "evidence is kept ahead", 2 * WAIT_S)
        self.engine.run(f"await ({KEPT})({json.dumps(list(files()))});")
        self.stop_server()
        for view in ("priorities", "putting"):
            self.go(f"evidence/{self.player}/{view}", ".notice.as-of")
            assert self.count(".failed") == 0
