"""What is entered is kept, sent in order, once."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from .rig import Bench, Phone, all_sent, enter, until, waiting


def test_an_entry_goes_at_once_where_there_is_a_connection(
    trial: Page, server: Bench, dossier: str
) -> None:
    trial.fill("#text", "606-418")
    trial.press("#text", "Enter")
    trial.get_by_text("entered 606-418").wait_for()
    all_sent(trial)
    assert server.texts(dossier) == ["606-418"]
    expect(trial.locator("#outbox-line")).to_have_text("all sent")


def test_fifty_entries_made_offline_survive_a_killed_browser_and_arrive_in_order_each_once(
    browser: Browser, server: Bench, dossier: str, tmp_path: Path
) -> None:
    wanted = [f"code {n:02d}" for n in range(50)]
    phone = Phone(browser, server, tmp_path)
    page = phone.start()
    phone.sign_in()
    page.goto(f"/dossiers/{dossier}/trial")
    page.context.set_offline(True)
    for text in wanted:
        enter(page, text)
    expect(page.locator("#outbox-line")).to_have_text("50 not sent yet · no connection")
    phone.kill()
    assert server.texts(dossier) == []

    page = phone.start()
    phone.sign_in()  # a browser writes its cookies down later than its database
    page.goto(f"/dossiers/{dossier}/trial")
    all_sent(page)
    page.reload()
    phone.close()
    assert server.texts(dossier) == wanted


def test_a_closed_tab_and_a_reload_lose_nothing(trial: Page, server: Bench, dossier: str) -> None:
    trial.context.set_offline(True)
    enter(trial, "in the first tab")
    other = trial.context.new_page()
    trial.close()
    trial.context.set_offline(False)
    other.goto(f"/dossiers/{dossier}/trial")
    other.reload()
    all_sent(other)
    assert server.texts(dossier) == ["in the first tab"]


@pytest.mark.parametrize("first", ["die before", "slow and killed"])
def test_a_server_killed_in_the_middle_of_sending_has_each_entry_once(
    trial: Page, server: Bench, dossier: str, first: str
) -> None:
    (server.folder / "died").unlink(missing_ok=True)
    wanted = ["one", first, *(f"after {n}" for n in range(10))]
    trial.context.set_offline(True)
    for text in wanted:
        enter(trial, text)
    trial.context.set_offline(False)
    if first.startswith("die"):
        server.died()
    else:
        until(trial, "endbell.outbox.all().then(all => all.length < 12)")
        server.kill()
    assert waiting(trial)
    server.start(int(server.address.rsplit(":", 1)[1]))
    all_sent(trial)
    assert server.texts(dossier) == wanted


def test_an_entry_that_the_page_itself_was_sending_is_sent_again_with_its_key(
    trial: Page, server: Bench, dossier: str
) -> None:
    (server.folder / "died").unlink(missing_ok=True)
    enter(trial, "die at once")  # recorded, never answered
    server.died()
    (kept,) = waiting(trial)
    server.start(int(server.address.rsplit(":", 1)[1]))
    all_sent(trial)
    (event,) = server.entered(dossier)
    assert event.key == kept["key"]


def test_the_time_of_typing_is_kept(trial: Page, server: Bench, dossier: str) -> None:
    trial.context.set_offline(True)
    before = datetime.now(UTC)
    enter(trial, "typed long ago")
    after = datetime.now(UTC)
    trial.wait_for_timeout(300)
    trial.context.set_offline(False)
    all_sent(trial)
    (event,) = server.entered(dossier)
    assert event.typed is not None
    at = datetime.fromisoformat(event.typed)
    assert before - timedelta(milliseconds=2) <= at <= after
    assert datetime.fromisoformat(event.at) - at >= timedelta(milliseconds=300)


def test_a_refused_entry_is_kept_with_its_sentence_and_the_others_go_on(
    trial: Page, server: Bench, dossier: str
) -> None:
    trial.context.set_offline(True)
    for text in ("one", "refuse this", "three"):
        enter(trial, text)
    trial.context.set_offline(False)
    all_sent(trial)
    assert server.texts(dossier) == ["one", "three"]
    (aside,) = waiting(trial)
    assert aside["state"] == "aside"
    assert aside["sentence"] == "refuse this is no code; what would do: six digits"
    expect(trial.locator("#outbox-line")).to_have_text("1 needs a look")


def test_a_fault_of_the_server_holds_nothing_up_for_good(
    trial: Page, server: Bench, dossier: str
) -> None:
    trial.context.set_offline(True)
    for text in ("fault for ever", "next"):
        enter(trial, text)
    trial.context.set_offline(False)
    for _ in range(3):
        trial.evaluate("endbell.page.atOnce()")
    all_sent(trial)
    assert server.texts(dossier) == ["next"]
    (aside,) = waiting(trial)
    assert "a fault in Endbell itself" in aside["sentence"]


def test_a_photo_made_offline_arrives_whole(
    trial: Page, server: Bench, dossier: str, tmp_path: Path
) -> None:
    photo = tmp_path / "stamp.jpg"
    photo.write_bytes(bytes(range(256)) * 4000)
    trial.context.set_offline(True)
    trial.set_input_files("#photo", photo)
    enter(trial, "with its photo")
    photo.unlink()  # the phone's camera folder may be emptied meanwhile
    trial.context.set_offline(False)
    all_sent(trial)
    (event,) = server.entered(dossier)
    assert event.data["row"]["note"] == "stamp.jpg 1024000"
    assert trial.evaluate(
        "endbell.idb.read(['files'], (s, give) => endbell.idb.then(s.files.count(), give))"
    ) == 0  # fmt: skip


def test_two_tabs_send_each_entry_once_and_in_order(
    trial: Page, server: Bench, dossier: str
) -> None:
    other = trial.context.new_page()
    other.goto(f"/dossiers/{dossier}/trial")
    trial.context.set_offline(True)
    wanted: list[str] = []
    for n in range(6):
        for page, name in ((trial, "left"), (other, "right")):
            enter(page, f"{name} {n}")
            wanted.append(f"{name} {n}")
    seen: list[str] = []
    trial.context.on("request", lambda r: seen.append(r.url) if r.method == "POST" else None)
    trial.context.set_offline(False)
    for page in (trial, other):
        page.evaluate("void endbell.page.atOnce()")
    all_sent(trial)
    all_sent(other)
    assert server.texts(dossier) == wanted
    assert len(seen) == 12


def test_a_double_tap_is_one_entry(trial: Page, server: Bench, dossier: str) -> None:
    for offline in (False, True):
        trial.context.set_offline(offline)
        trial.fill("#text", f"tapped twice {offline}")
        trial.evaluate(
            "(() => { const f = document.getElementById('live'); f.requestSubmit(); f.requestSubmit(); })()"
        )
        until(trial, "endbell.outbox.lately().then(sent => sent.length === 1)")
        trial.wait_for_timeout(100)
    trial.context.set_offline(False)
    trial.evaluate("endbell.page.atOnce()")
    all_sent(trial)
    assert server.texts(dossier) == ["tapped twice False", "tapped twice True"]


def test_what_is_entered_while_the_one_before_is_on_its_way_is_not_lost(
    trial: Page, server: Bench, dossier: str
) -> None:
    wanted = ["slow one", "two", "three"]
    for text in wanted:
        trial.fill("#text", text)
        trial.press("#text", "Enter")
    until(trial, "endbell.outbox.lately().then(sent => sent.length === 3)")
    assert server.texts(dossier) == wanted


def test_what_is_being_typed_when_the_entry_before_it_is_kept_stays_in_the_field(
    trial: Page, server: Bench, dossier: str
) -> None:
    (server.folder / "later").touch()
    trial.fill("#text", "later, the first")
    trial.press("#text", "Enter")
    trial.fill("#text", "606-4")
    trial.get_by_text("kept on this device").wait_for()
    trial.locator("#text").press_sequentially("18")
    trial.press("#text", "Enter")
    (server.folder / "later").unlink()
    until(trial, "endbell.outbox.all().then(all => all.length !== 1)")
    trial.evaluate("endbell.page.atOnce()")
    all_sent(trial)
    assert server.texts(dossier) == ["later, the first", "606-418"]


def test_the_same_code_entered_twice_on_purpose_is_two_entries(
    trial: Page, server: Bench, dossier: str
) -> None:
    for n in range(2):
        trial.fill("#text", "606-418")
        trial.press("#text", "Enter")
        until(trial, "n => endbell.outbox.lately().then(sent => sent.length === n)", n + 1)
        trial.wait_for_timeout(900 * (1 - n))
    assert server.texts(dossier) == ["606-418", "606-418"]


def test_a_form_without_htmx_goes_through_the_outbox_as_well(
    trial: Page, server: Bench, dossier: str
) -> None:
    trial.fill("#plain-text", "online")
    trial.press("#plain-text", "Enter")
    until(trial, "endbell.outbox.lately().then(sent => sent.length === 1)")
    trial.context.set_offline(True)
    trial.fill("#plain-text", "offline")
    trial.press("#plain-text", "Enter")
    trial.get_by_text("kept on this device").wait_for()
    trial.context.set_offline(False)
    all_sent(trial)
    assert server.texts(dossier) == ["online", "offline"]


def test_the_gate_page_of_a_public_network_takes_nothing(
    trial: Page, server: Bench, dossier: str
) -> None:
    gate = {"status": 200, "content_type": "text/html", "body": "<p>Accept our terms</p>"}
    trial.context.route("**/dossiers/**", lambda route: route.fulfill(**gate))  # pyright: ignore
    enter(trial, "behind the gate")
    trial.wait_for_timeout(200)
    assert [entry["state"] for entry in waiting(trial)] == ["waiting"]
    trial.context.unroute("**/dossiers/**")
    trial.evaluate("endbell.page.atOnce()")
    all_sent(trial)
    assert server.texts(dossier) == ["behind the gate"]
