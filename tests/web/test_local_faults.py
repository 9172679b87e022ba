"""Faults on the phone itself: killed tabs, no room, storage cleared, several tabs, an upgrade, a clock that jumps."""

from __future__ import annotations

import datetime
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.tiers import count
from tests.web.audit import check_consistent, delivered_once, live_shots
from tests.web.begun import begin_round
from tests.web.phone import SETTLED, Phone, Server

KILLED_AFTER_MS = range(0, 12, count(3, 1))


def ready(phone: Phone, kind: str = "practice") -> tuple[str, str]:
    round_id = begin_round(phone, kind)
    return phone.player_id(), round_id


@pytest.mark.service_worker
def test_a_round_offline_reaches_the_server_once(phone: Phone, live_server: Server) -> None:
    player_id, round_id = ready(phone)
    phone.go_offline()
    for hole in range(1, 4):
        phone.hit()
        phone.type_distance(140 + hole)
        phone.hit()
        phone.hole_out()
        if hole == 2:  # the browser is closed and opened again in the dead zone
            phone.kill()
            phone.open(f"#/round/{round_id}/2", ".shot")
            phone.next_hole()
        phone.wait_for_hole(hole + 1)
    assert phone.status().startswith("saved here,")
    check_consistent(phone)
    phone.context.set_offline(False)
    phone.wait_sent()
    shots = live_shots(delivered_once(phone, live_server, player_id))
    assert len(shots) == 9
    assert check_consistent(phone)["outbox"] == 0
    assert phone.errors == []


def test_a_tab_killed_while_writing_leaves_a_complete_shot_or_none(phone: Phone, live_server: Server) -> None:
    player_id, round_id = ready(phone)
    seen_saved = 0
    for wait in KILLED_AFTER_MS:
        page = phone.page
        before = page.locator(".shot").count()
        assert before >= seen_saved, "a shot that was said to be saved is gone"
        page.evaluate(
            "(wait) => new Promise((go) => { document.getElementById('hit').click(); setTimeout(go, wait); })", wait
        )
        if "saved" in page.inner_text("#said"):
            seen_saved = before + 1
        phone.kill()
        phone.open(f"#/round/{round_id}/1", ".entry")
        assert check_consistent(phone)["records"] >= 16
        assert phone.page.locator(".shot").count() in (before, before + 1)
    orders = sorted(shot["body"]["order"] for shot in phone.live("shot"))
    assert orders == list(range(1, len(orders) + 1))
    phone.wait_sent()
    assert len(live_shots(delivered_once(phone, live_server, player_id))) == len(orders)


FILL = """async (size) => {
  const open = indexedDB.open('ballast', 1);
  open.onupgradeneeded = () => open.result.createObjectStore('s', { autoIncrement: true });
  const database = await new Promise((yes, no) => {
    open.onsuccess = () => yes(open.result);
    open.onerror = () => no(open.error);
  });
  const put = () => new Promise((go) => {
    const transaction = database.transaction('s', 'readwrite');
    transaction.objectStore('s').add(Array.from(crypto.getRandomValues(new Uint8Array(size))).join());
    transaction.oncomplete = () => go(null);
    transaction.onabort = () => go(transaction.error.name);
  });
  let failed = null;
  // the store packs itself meanwhile and has room again: full is where three in a row find none
  for (let i = 0, refused = 0; i < 1000 && refused < 3; i += 1) {
    failed = await put();
    refused = failed ? refused + 1 : 0;
    if (failed) await new Promise((go) => setTimeout(go, 150));
  }
  database.close();
  return failed;
}"""


def test_a_full_phone_says_not_saved_and_keeps_nothing_half(disk_phone: Phone) -> None:
    phone = disk_phone
    wire = phone.context.new_cdp_session(phone.context.new_page())
    wire.send("Storage.overrideQuotaForOrigin", {"origin": phone.address, "quotaSize": 1_500_000})
    page = phone.open()
    phone.sign_up()
    phone.start_round()
    phone.hit()
    phone.wait_sent()
    before = check_consistent(phone)
    assert [page.evaluate(FILL, size) for size in (20_000, 400, 10)] == ["QuotaExceededError"] * 3
    phone.settled()
    page.click("#hit")
    expect(page.locator("#alert")).to_contain_text("Not saved: the phone has no space left")
    expect(page.locator("#saving")).to_have_text("not saved")
    assert page.locator(".shot").count() == 1
    assert check_consistent(phone) == before
    wire.send("Storage.overrideQuotaForOrigin", {"origin": phone.address})
    page.evaluate("() => new Promise((go) => { indexedDB.deleteDatabase('ballast').onsuccess = go; })")
    phone.kill()
    phone.open(page.url.split("/", 3)[3], ".shot")
    assert phone.page.locator(".shot").count() == 1
    phone.hit()
    assert check_consistent(phone)["changes"] == before["changes"] + 1


def test_storage_cleared_by_the_browser_is_reported_and_fetched_again(phone: Phone, live_server: Server) -> None:
    player_id, _ = ready(phone)
    phone.hit()
    phone.hit()
    phone.wait_sent()
    wire = phone.context.new_cdp_session(phone.page)
    wire.send("Storage.clearDataForOrigin", {"origin": phone.address, "storageTypes": "indexeddb"})
    expect(phone.page.locator("#alert")).to_contain_text("closed or cleared")
    phone.page.wait_for_selector(f"#player-{player_id}")
    phone.page.click(f"#player-{player_id}")
    phone.page.wait_for_selector("#new-round")
    assert len(phone.live("shot")) == 2
    delivered_once(phone, live_server, player_id)


def test_two_tabs_at_once_number_every_shot_once(phone: Phone, live_server: Server) -> None:
    player_id, round_id = ready(phone)
    phone.hit()
    first = phone.page
    second = phone.open(f"#/round/{round_id}/1", ".shot")
    turns = count(2, 5)
    for turn in range(1, turns + 1):
        for page in (first, second):
            page.wait_for_selector(SETTLED)
        for page in (first, second):
            page.evaluate("document.getElementById('hit').click()")
        for page in (first, second):
            expect(page.locator(".shot")).to_have_count(1 + 2 * turn)
    assert sorted(shot["body"]["order"] for shot in phone.live("shot")) == list(range(1, 2 + 2 * turns))
    phone.wait_sent()
    assert len(live_shots(delivered_once(phone, live_server, player_id))) == 1 + 2 * turns


def test_an_old_tab_lets_go_when_the_database_is_upgraded(phone: Phone) -> None:
    ready(phone)
    phone.hit()
    phone.wait_sent()
    before = check_consistent(phone)
    other = phone.context.new_page()
    other.goto(f"{phone.address}/manifest.webmanifest")
    held, version = other.evaluate("""async () => {
      const [{ version: held }] = (await indexedDB.databases()).filter(({ name }) => name === 'pencilbag');
      return [held, await new Promise((yes, no) => {
      const open = indexedDB.open('pencilbag', held + 1);
      open.onsuccess = () => { yes(open.result.version); open.result.close(); };
      open.onerror = () => no(open.error);
      open.onblocked = () => no('blocked: the old tab did not let go');
    })];
    }""")
    assert version == held + 1
    expect(phone.page.locator("#alert")).to_contain_text("newer version")
    phone.settled()
    phone.page.click("#hit")
    expect(phone.page.locator("#alert")).to_contain_text("Not saved")
    assert check_consistent(phone) == before
    phone.kill()
    page = phone.context.new_page()
    phone.pages.append(page)
    page.goto(f"{phone.address}/")
    expect(page.locator("main")).to_contain_text("a newer version of this app is already here")


def test_a_tab_that_does_not_let_go_only_delays_the_upgrade(phone: Phone) -> None:
    page = phone.open()
    answer = page.evaluate("""async () => {
      const { openDatabase } = await import('/js/log/database.js');
      const stubborn = await openDatabase('waiting');
      stubborn.onversionchange = () => undefined;
      let blocked = false;
      const upgrade = new Promise((yes) => {
        const open = indexedDB.open('waiting', stubborn.version + 1);
        open.onblocked = () => { blocked = true; setTimeout(() => stubborn.close(), 50); };
        open.onsuccess = () => { yes(open.result.version); open.result.close(); };
      });
      return { higher: (await upgrade) - stubborn.version, blocked };
    }""")
    assert answer == {"higher": 1, "blocked": True}


def test_a_clock_moved_in_mid_round_loses_and_reorders_nothing(phone: Phone, live_server: Server) -> None:
    player_id, _ = ready(phone)
    jumps = (datetime.timedelta(days=3), -datetime.timedelta(days=400), datetime.timedelta(hours=5))
    for jump in jumps:
        phone.page.clock.set_fixed_time(datetime.datetime.now(datetime.UTC) + jump)
        phone.hit()
        phone.page.locator(".shot").last.click()
        phone.page.fill("#edit-distance", str(100 + jumps.index(jump)))
        phone.page.click("#save-shot")
        phone.page.wait_for_selector("dialog", state="detached")
    phone.page.click("#saving")
    phone.page.click("#send-now")
    phone.wait_sent()
    log = delivered_once(phone, live_server, player_id)
    shots = sorted(live_shots(log), key=lambda shot: shot["order"])
    assert [shot["distance_yd"] * (3 if shot["lie"] == "green" else 1) for shot in shots] == [100, 101, 102]
    assert not any(record["conflict"] for record in phone.all_of("records"))
    assert all(change["effective_time"] <= change["received_at"] for change in log)


def its_parts_of_saving(phone: Phone) -> None:
    """They come with the network."""
    phone.page.goto(f"{phone.address}/#/saving")
    phone.page.wait_for_selector("#log-file")


def test_the_log_goes_to_a_file_and_back_offline(make_phone: Any, live_server: Server, tmp_path: Any) -> None:
    old: Phone = make_phone()
    player_id, _ = ready(old)
    its_parts_of_saving(old)
    old.page.go_back()
    old.page.wait_for_selector("#hit")
    old.go_offline()
    old.hit()
    old.hit()
    old.page.click("#saving")
    with old.page.expect_download() as download:
        old.page.click("#save-log")
    file = tmp_path / "log.json"
    download.value.save_as(file)

    new: Phone = make_phone()
    new.open()
    its_parts_of_saving(new)
    new.go_offline()
    new.page.set_input_files("#log-file", file)
    expect(new.page.locator("#alert")).to_contain_text("Restored: 18 changes added, 0 already here")
    assert {change["change_id"] for change in new.all_of("changes")} == {
        change["change_id"] for change in old.all_of("changes")
    }
    assert len(new.live("shot")) == 2
    new.page.set_input_files("#log-file", file)
    expect(new.page.locator("#alert")).to_contain_text("Restored: 0 changes added, 18 already here")
    damaged = tmp_path / "damaged.json"
    damaged.write_bytes(file.read_bytes()[:-200])
    new.page.set_input_files("#log-file", damaged)
    expect(new.page.locator("#alert")).to_contain_text("or is incomplete")
    new.context.set_offline(False)
    new.wait_sent()
    assert len(live_shots(delivered_once(new, live_server, player_id))) == 2
    old.context.set_offline(False)
    old.wait_sent()
    delivered_once(old, live_server, player_id)
