"""Owning the data on the phone: everything in one file, and erasing it, asked twice, offline first."""

from __future__ import annotations

import io
import json
import zipfile
from typing import Any

import sqlalchemy as sa
from playwright.sync_api import expect

from server.files.season_tables.dictionary import tables
from tests.web.account_people import a_coach, a_player_with_a_round, account, house, sign_in
from tests.web.evidence_pages import wait_held
from tests.web.phone import Phone, Server
from tests.web.screens import close_sheet, go

STORES = ("changes", "outbox", "records", "undo", "tallies")


def erase(phone: Phone, name: str = "Robin Vale") -> None:
    """Say it twice, the second time by typing."""
    go(phone, "own-data", "#erase")
    phone.page.click("#erase")
    phone.page.click("#erase-go-on")
    phone.page.fill("#erase-name", name)
    phone.page.click("#erase-now")


def held(phone: Phone) -> dict[str, int]:
    """How much each store of the phone holds."""
    return {name: len(rows) for name, rows in zip(STORES, phone.all_of(*STORES), strict=True)}


NOTHING = dict.fromkeys(STORES, 0)


def status(phone: Phone, path: str) -> int:
    """How the server answers this phone."""
    return int(phone.page.evaluate("async (path) => (await fetch(path)).status", path))


def unzipped(phone: Phone) -> dict[str, str]:
    """The files in what the phone saves as everything."""
    go(phone, "own-data", "#download")
    with phone.page.expect_download() as saved:
        phone.page.click("#download")
    with zipfile.ZipFile(io.BytesIO(saved.value.path().read_bytes())) as file:
        assert file.testzip() is None
        return {name: file.read(name).decode() for name in file.namelist()}


def test_everything_is_in_one_file(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    files = unzipped(phone)
    log = json.loads(files["phone/log.json"])
    assert len(log["changes"]) == held(phone)["changes"] > 10
    kept = json.loads(files["server/everything.json"])
    assert {one["change_id"] for one in kept["changes"]} == {one["change_id"] for one in log["changes"]}
    assert [one["name"] for one in kept["accounts"]] == ["robin"]
    (package,) = [name for name in files if name.endswith("datapackage.json")]
    folder = package.split("/")[0]
    resources = json.loads(files[package])["resources"]
    assert len(resources) == len(tables())
    for resource in resources:
        assert files[f"{folder}/{resource['path']}"].splitlines()[0].count(",") > 3
    assert files[f"{folder}/shots.csv"].count("Robin Vale") == 2
    expect(phone.page.locator("#downloaded")).to_contain_text("all that the server keeps")
    assert phone.page.locator("#downloaded .notice").count() == 0


def test_without_a_network_the_file_holds_the_phones_log_and_says_what_is_missing(
    make_phone: Any, own_server: Server
) -> None:
    phone, _ = house(make_phone, own_server)
    go(phone, "own-data", "#download")  # its parts come with the network
    phone.go_offline()
    files = unzipped(phone)
    assert list(files) == ["phone/log.json"]
    expect(phone.page.locator("#downloaded .notice")).to_contain_text("Not in it: what the server keeps")


def test_a_locked_table_is_named_and_the_rest_is_there(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    go(phone, "", ".home")
    phone.start_round("competition")
    phone.wait_sent()
    files = unzipped(phone)
    folder = next(name for name in files if name.endswith("datapackage.json")).split("/")[0]
    assert f"{folder}/rounds.csv" in files or f"{folder}/clubs.csv" in files
    assert f"{folder}/club_summary.csv" not in files
    expect(phone.page.locator("#downloaded .notice")).to_contain_text("locked while a competition round is open")
    expect(phone.page.locator("#downloaded .notice")).to_contain_text("notes (locked")


def test_what_is_not_the_name_erases_nothing(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    before = {**held(phone), "tallies": None}
    erase(phone, "robin vale")
    expect(phone.page.locator("dialog .notice")).to_contain_text("Nothing was erased.")
    close_sheet(phone)
    go(phone, "own-data", "#erase")
    phone.page.click("#erase")
    phone.page.click("#erase-no")
    assert {**held(phone), "tallies": None} == before  # tallies are made anew whenever a list is shown
    assert status(phone, f"/api/players/{phone.player_id()}") == 200


def test_erased_here_and_there_and_every_other_device_is_informed(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    player_id = phone.player_id()
    address = f"/api/players/{player_id}"
    other: Phone = make_phone(own_server)
    other.open()
    sign_in(other, "robin")
    other.wait_sent()
    coach = a_coach(make_phone, own_server)
    go(phone, "sharing", "#invite")
    phone.page.click("#by-name")
    phone.page.fill("#share-reader", "cara")
    phone.page.click("#share-with-reader")
    phone.page.wait_for_selector("#readers")
    assert status(coach, address) == 200
    erase(phone)
    expect(phone.page.locator("#alert")).to_contain_text("The server has erased it too")
    assert held(phone) == NOTHING
    assert player_id not in json.dumps(phone.all_of("settings"))
    # The device that asked is nobody's, the other is told, and the coach sees nothing.
    assert (status(phone, address), status(other, address), status(coach, address)) == (401, 410, 404)
    go(other, "saving", "#send-now")
    other.page.click("#send-now")
    expect(other.page.locator("#alert")).to_contain_text("This player was erased on the server")
    expect(other.page.locator("#saving")).to_have_text("erased on the server")
    assert held(other)["changes"] > 0
    # What the other device notes from now on is refused as a whole, and stays on it until it is erased there too.
    expect(other.page.locator("main")).to_contain_text("can be saved to a file, or erased here too")
    erase(other)
    expect(other.page.locator("#alert")).to_contain_text("it was erased there before")
    assert held(other) == NOTHING


def test_erased_without_a_network_the_server_is_asked_when_it_is_back(make_phone: Any, own_server: Server) -> None:
    phone, round_id = house(make_phone, own_server)
    player_id = phone.player_id()
    address = f"/api/players/{player_id}"
    go(phone, "own-data", "#erase")  # its parts come with the network
    go(phone, f"round/{round_id}/card", "#reopen")
    phone.go_offline()
    go(phone, f"round/{round_id}/card", "#reopen")
    phone.page.click("#reopen")
    phone.page.wait_for_selector("#close-round")
    go(phone, "own-data", "#erase")
    phone.page.click("#erase")
    expect(phone.page.locator("dialog")).to_contain_text("1 change of them was never sent, and is nowhere else.")
    close_sheet(phone)
    erase(phone)
    expect(phone.page.locator("#erasure-waits")).to_contain_text("The server cannot be reached")
    assert held(phone) == NOTHING
    assert "Robin Vale" not in json.dumps(phone.all_of("settings"))
    assert len(own_server_log(phone, own_server, player_id)) > 10
    phone.context.set_offline(False)
    expect(phone.page.locator("#alert")).to_contain_text("The server has erased it too")
    assert phone.page.locator("#erasure-waits").count() == 0
    sam = a_stranger(make_phone, own_server)
    assert status(sam, address) == 404


def own_server_log(phone: Phone, server: Server, player_id: str) -> list[Any]:
    """The bodies that the server's file still holds of a player."""
    engine = sa.create_engine(f"sqlite:///{server.folder}/server.sqlite")
    with engine.connect() as connection:
        query = sa.text("select body from change where player_id = :id and body is not null")
        rows = list(connection.execute(query, {"id": player_id}))
    engine.dispose()
    assert phone.errors == []
    return rows


def a_stranger(make_phone: Any, server: Server) -> Phone:
    account(server, "sam", "player")
    phone: Phone = make_phone(server)
    phone.open()
    sign_in(phone, "sam")
    return phone


def test_an_erasure_waits_over_a_restart_of_the_app(make_phone: Any, own_server: Server) -> None:
    """The API alone is out of reach: how the app starts without a network stands in `test_offline_app`."""
    phone, _ = house(make_phone, own_server)
    player_id = phone.player_id()
    phone.context.route("**/api/**", lambda route: route.abort())
    erase(phone)
    phone.page.wait_for_selector("#erasure-waits")
    phone.kill()
    phone.open(wait="#erasure-waits")
    phone.context.unroute_all(behavior="wait")
    phone.page.evaluate("dispatchEvent(new Event('online'))")
    expect(phone.page.locator("#alert")).to_contain_text("The server has erased it too")
    assert own_server_log(phone, own_server, player_id) == []


def test_a_waiting_erasure_can_be_taken_back(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    player_id = phone.player_id()
    go(phone, "own-data", "#erase")
    phone.go_offline()
    erase(phone)
    phone.page.click("#keep-on-server")
    phone.page.locator("dialog[open]").get_by_role("button", name="Keep it there", exact=True).click()
    expect(phone.page.locator("#erasure-waits")).to_have_count(0)
    phone.context.set_offline(False)
    phone.page.reload()
    phone.page.click(f"#player-{player_id}")
    phone.page.wait_for_selector("#new-round")
    phone.wait_sent()
    assert len(phone.live("shot")) == 2


def test_an_erasure_waits_for_the_player_to_sign_in(make_phone: Any, own_server: Server) -> None:
    phone, _ = house(make_phone, own_server)
    player_id = phone.player_id()
    phone.context.clear_cookies()  # the session has run out
    erase(phone)
    expect(phone.page.locator("#erasure-waits")).to_contain_text("sign in as the player")
    assert held(phone) == NOTHING
    assert len(own_server_log(phone, own_server, player_id)) > 10
    sign_in(phone, "robin")
    expect(phone.page.locator("#alert")).to_contain_text("The server has erased it too")
    assert held(phone) == NOTHING
    assert own_server_log(phone, own_server, player_id) == []


def test_another_tab_brings_nothing_back(make_phone: Any, own_server: Server) -> None:
    phone, round_id = house(make_phone, own_server)
    first = phone.page
    phone.open(f"#/round/{round_id}/card", "#reopen")
    second = phone.page
    phone.pages.append(first)
    go(phone, "own-data", "#erase")
    phone.go_offline()
    erase(phone)
    phone.page.wait_for_selector("#erasure-waits")
    assert held(phone) == NOTHING
    second.evaluate("() => document.getElementById('reopen')?.click()")
    second.wait_for_timeout(500)
    assert held(phone) == NOTHING
    phone.context.set_offline(False)
    expect(phone.page.locator("#alert")).to_contain_text("The server has erased it too")
    second.wait_for_timeout(1500)
    assert held(phone) == NOTHING


def test_in_an_open_house_it_is_the_same(make_phone: Any, own_server: Server) -> None:
    phone, _ = a_player_with_a_round(make_phone, own_server)
    player_id = phone.player_id()
    erase(phone)
    expect(phone.page.locator("#alert")).to_contain_text("The server has erased it too")
    assert held(phone) == NOTHING
    assert own_server_log(phone, own_server, player_id) == []
    assert own_server.get("/api/players") == {"players": []}


def test_a_player_who_was_never_sent_needs_nobody(make_phone: Any, own_server: Server) -> None:
    phone: Phone = make_phone(own_server)
    phone.open()
    phone.go_offline()
    phone.sign_up("Robin Vale")
    erase(phone)
    phone.page.wait_for_selector("#erasure-waits")
    phone.context.set_offline(False)
    expect(phone.page.locator("#alert")).to_contain_text("nothing was ever sent there")


def test_others_on_the_same_phone_stay(make_phone: Any, own_server: Server) -> None:
    phone, _ = a_player_with_a_round(make_phone, own_server)
    go(phone, "players", "#create-player")
    phone.sign_up("Kim Marsh")
    phone.wait_sent()
    kim = phone.player_id()
    kept = sorted(one["change_id"] for one in phone.all_of("changes") if one["player_id"] == kim)
    go(phone, "players", "#create-player")
    phone.page.get_by_role("button", name="Robin Vale").click()
    phone.page.wait_for_selector("#new-round")
    erase(phone)
    expect(phone.page.locator("#alert")).to_contain_text("The server has erased it too")
    assert sorted(one["change_id"] for one in phone.all_of("changes")) == kept
    assert {one["player_id"] for one in phone.all_of("records")} == {kim}


def test_a_network_that_comes_back_while_the_server_is_asked_asks_it_again(make_phone: Any, own_server: Server) -> None:
    """The first asking hangs and fails after the network is back: the second, which was to be dropped, is made."""
    phone, _ = house(make_phone, own_server)
    held: list[Any] = []
    reached = False
    phone.page.route("**/api/players/**", lambda route: route.continue_() if reached else held.append(route))
    erase(phone)
    phone.page.wait_for_selector("#erasure-waits")
    wait_held(phone.page, held)
    phone.page.evaluate("dispatchEvent(new Event('online'))")
    reached = True
    for route in held:
        route.abort()
    expect(phone.page.locator("#alert")).to_contain_text("The server has erased it too")
    assert phone.page.locator("#erasure-waits").count() == 0
