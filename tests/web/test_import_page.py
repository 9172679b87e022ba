"""Rounds out of a table, on the screen: seen first, stored whole or not at all, bad rows named."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import expect

from tests.files.tables import row, table
from tests.web.account_screens import choose_table, rows_of
from tests.web.begun import begin_player
from tests.web.phone import Phone, Server
from tests.web.screens import go


def ready(make_phone: Any, server: Server) -> Phone:
    phone: Phone = make_phone(server)
    begin_player(phone)
    phone.wait_sent()
    go(phone, "import", "#table-file")
    return phone


def test_two_rounds_are_seen_stored_and_played_on_with(make_phone: Any, own_server: Server) -> None:
    phone = ready(make_phone, own_server)
    before = len(own_server.log(phone.player_id()))
    choose_table(phone, table(rows_of("Robin Vale") + rows_of("Robin Vale", played_on="2026-05-09")))
    expect(phone.page.locator("#preview")).to_have_text("2 rounds, 4 shots. Nothing is stored yet.")
    expect(phone.page.locator("#rounds-found li").first).to_contain_text("Fri, 1 May 2026")
    expect(phone.page.locator("#rounds-found li").first).to_contain_text("Heron Marsh (invented), middle")
    expect(phone.page.locator("#import-result")).to_contain_text("Course 'Heron Marsh (invented)' is new.")
    assert len(own_server.log(phone.player_id())) == before
    phone.page.click("#store-rounds")
    expect(phone.page.locator("#stored")).to_have_text("Stored: 2 rounds, 4 shots.")
    phone.page.click("#to-rounds")
    expect(phone.page.locator(".list-row").filter(has_text="Heron Marsh")).to_have_count(2)
    assert len(phone.live("round")) == 2
    assert len(phone.live("shot")) == 4
    go(phone, "import", "#table-file")
    choose_table(phone, table(rows_of("Robin Vale")))
    expect(phone.page.locator("#nothing-new")).to_be_visible()


def test_bad_rows_are_named_and_nothing_is_stored(make_phone: Any, own_server: Server) -> None:
    phone = ready(make_phone, own_server)
    before = len(own_server.log(phone.player_id()))
    choose_table(phone, table([*rows_of("Robin Vale"), row(player="Robin Vale", distance=900, hole=77, tees="middle")]))
    expect(phone.page.locator("#refused")).to_contain_text("rounds.csv cannot be imported; nothing was stored.")
    cells = phone.page.locator(".faults tbody tr").evaluate_all(
        "(rows) => rows.map((row) => [...row.cells].map((cell) => cell.innerText))"
    )
    assert cells == [["row 4\nhole", "77", "1 to 36"], ["row 4\ndistance", "900", "0 to 700 yd"]]
    assert len(own_server.log(phone.player_id())) == before
    assert phone.page.locator("#store-rounds").count() == 0
    # The same file, mended, is taken.
    choose_table(phone, table(rows_of("Robin Vale")))
    expect(phone.page.locator("#preview")).to_be_visible()


def test_what_is_no_table_is_named_in_words(make_phone: Any, own_server: Server) -> None:
    phone = ready(make_phone, own_server)
    for content, words in {
        b"\xff\xfe\x00broken": "is not UTF-16",
        b"x" * 3_000_001: "a table may have up to 3,000,000",
        b"hole,par\n1,4\n": "missing column",
    }.items():
        choose_table(phone, content)
        expect(phone.page.locator("#import-result")).to_contain_text(words)
        expect(phone.page.locator("#import-result")).to_contain_text("othing was stored")


def test_a_spreadsheet_says_how_it_was_read_and_is_read_another_way(make_phone: Any, own_server: Server) -> None:
    phone = ready(make_phone, own_server)
    rows = rows_of("Robin Vale", played_on="03/04/2026", note="Zoë", target_yd="250|5")
    content = table(rows).decode().replace(",", ";").replace("|", ",").encode("cp1252")
    choose_table(phone, content)
    expect(phone.page.locator(".faults tbody tr")).to_have_count(1)
    expect(phone.page.locator(".faults tbody tr")).to_contain_text("1 more like it, the last in row 3")
    phone.page.click("#reading summary")
    phone.page.select_option("#reading-date_format", "DD/MM/YYYY")
    expect(phone.page.locator("#taken")).to_have_text(
        "Read as CSV, Windows-1252 (not sound UTF-8), semicolons between cells, decimal comma, days DD/MM/YYYY. "
        "Is that right?"
    )
    expect(phone.page.locator("#rounds-found li")).to_contain_text("Fri, 3 Apr 2026")
    expect(phone.page.locator("#reading-date_format")).to_have_value("DD/MM/YYYY")
    phone.page.click("#store-rounds")
    expect(phone.page.locator("#stored")).to_have_text("Stored: 1 round, 2 shots.")
    assert phone.live("round")[0]["body"]["played_on"] == "2026-04-03"


def test_somebody_elses_rows_are_not_taken(make_phone: Any, own_server: Server) -> None:
    phone = ready(make_phone, own_server)
    choose_table(phone, table(rows_of("Wren Quillfeather")))
    expect(phone.page.locator(".faults tbody tr").first).to_contain_text("Wren Quillfeather")
    expect(phone.page.locator(".faults tbody tr").first).to_contain_text("Robin Vale")


def test_words_in_a_table_are_words_on_the_screen(make_phone: Any, own_server: Server) -> None:
    phone = ready(make_phone, own_server)
    odd = "<img src=x onerror=alert(1)>"
    cells = [one | {"course": odd} for one in rows_of("Robin Vale")]
    choose_table(phone, table(cells))
    expect(phone.page.locator("#rounds-found li").first).to_contain_text(odd)
    assert phone.page.locator("#import-result img").count() == 0


def test_without_a_network_the_preview_says_so(make_phone: Any, own_server: Server) -> None:
    phone = ready(make_phone, own_server)
    phone.go_offline()
    choose_table(phone, table(rows_of("Robin Vale")))
    expect(phone.page.locator("#refused")).to_contain_text("The preview needs a network.")
