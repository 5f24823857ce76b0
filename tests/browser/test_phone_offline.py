"""In real Chromium: nothing lost, nothing leaked, nothing under the wrong name."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from tests import needs
from tests.browser.conftest import PHONE, Service, signed_in
from tests.browser.phone_scene import (
    BITE,
    answer,
    arrived,
    case_text,
    code,
    holding,
    kept_offline,
    kept_phone,
    kill,
    officer,
    open_phone,
    outbox,
    phone,
    team_card,
    until,
)

__all__ = ["code", "officer", "phone"]
pytestmark = [pytest.mark.browser, pytest.mark.slow, needs.chromium(), pytest.mark.timeout(300)]

CANARY = "quellcanary"
# As text, and as Chromium writes text with letters outside Latin-1.
CANARIES = (CANARY.encode(), CANARY.encode("utf-16-le"))


def write_report(page: Page, words: str) -> None:
    """A report up to its last question, typed and not sent; the clock runs."""
    page.locator("#start").click()
    answer(page, *BITE)
    page.locator("textarea").fill(words)
    until(lambda: sorted(row["id"][:5] for row in outbox(page)) == ["alarm", "draft"])


def test_written_offline_and_killed_it_arrives_after_a_restart_and_no_word_of_it_was_on_the_disk(
    browser: Browser, service: Service, code: str, officer: Page, tmp_path: Path
) -> None:
    profile = tmp_path / "profile"
    with kept_phone(browser, service, profile) as context:
        page = open_phone(context, code)
        kept_offline(page)
        context.set_offline(True)
        page.reload()
        write_report(page, f"{CANARY} ω")
        page.locator("[data-send]").click()
        expect(page.get_by_text("It waits for network and goes by itself.")).to_be_visible()
        until(lambda: sorted(row["id"][:6] for row in outbox(page)) == ["alarm:", "report"])
        kill(profile)
    assert holding(profile, (b"three-fifteen-phone",)), "the search looks in the wrong place"
    assert holding(profile, CANARIES) == []

    with kept_phone(browser, service, profile) as context:
        page = open_phone(context)
        expect(page.locator("[data-washed]")).to_be_visible()  # the clock has run on
        until(lambda: all(row["state"] == "sent" for row in outbox(page)), seconds=60)
        (reference,) = {row["reference"] for row in outbox(page)}
        assert holding(profile, CANARIES) == []
    assert f"{CANARY} ω" in case_text(officer, reference)


def test_a_draft_is_gone_on_with_after_a_kill_and_no_word_of_it_was_on_the_disk(
    browser: Browser, service: Service, code: str, tmp_path: Path
) -> None:
    profile = tmp_path / "profile"
    with kept_phone(browser, service, profile) as context:
        page = open_phone(context, code)
        write_report(page, CANARY)
        until(lambda: "draft" in [row["id"][:5] for row in outbox(page)])
        page.wait_for_timeout(1000)
        kill(profile)
    assert holding(profile, CANARIES) == []
    with kept_phone(browser, service, profile) as context:
        page = open_phone(context)
        expect(page.locator("textarea")).to_have_value(CANARY)


DRAFTS = """async () => {
  const { Kept } = await import('/phone/files/any/kept.js');
  const store = await openPhoneStore();
  const drafts = (await store.all('kept')).filter(({ id }) => id.startsWith('draft:'));
  return Promise.all(drafts.map(async ({ id }) => (await new Kept(store).recall(id)).answers));
}"""


def test_an_unfinished_report_goes_by_itself_after_half_an_hour(
    phone: BrowserContext, code: str, officer: Page
) -> None:
    page = phone.new_page()
    page.clock.install()
    page.goto(f"/phone/#{code}")
    page.get_by_role("button", name="Report without the clock").click()
    answer(page, "scratch", "unknown", "leg")
    # The answers are written one after the other behind the questions; the last one's half hour counts.
    answered = {"kind": "scratch", "washed": "unknown", "site": ["leg"]}
    until(lambda: answered in page.evaluate(DRAFTS) and [row["part"] for row in outbox(page)] == [True])
    page.clock.fast_forward("29:00")
    assert [row["state"] for row in outbox(page)] == ["waiting"]
    page.clock.fast_forward("31:00")
    until(lambda: [row["state"] for row in outbox(page)] == ["sent"])
    assert "Scratched; leg" in case_text(officer, outbox(page)[0]["reference"])


def test_minutes_that_were_said_count_once_though_a_draft_went_out_before_they_changed(
    phone: BrowserContext, code: str, officer: Page
) -> None:
    page = phone.new_page()
    page.clock.install()
    page.goto(f"/phone/#{code}")
    page.get_by_role("button", name="Report without the clock").click()
    answer(page, "scratch")
    before = page.evaluate("Date.now()")
    answer(page, "about-10")
    until(lambda: [row["made_at"] >= before for row in outbox(page)] == [True])
    page.clock.fast_forward("31:00")
    until(lambda: [row["state"] for row in outbox(page)] == ["sent"])
    answer(page, *BITE[1:])
    page.get_by_text("It happened earlier").click()
    page.locator("#happened").fill("2026-03-02T08:00")
    page.locator("[data-send]").click()
    assert "Washed for 10:00" in case_text(officer, arrived(page))


def test_two_tabs_at_the_first_opening_keep_under_one_key_and_what_cant_be_read_stops_nothing(
    phone: BrowserContext, code: str
) -> None:
    page = open_phone(phone)
    both = page.evaluate("""async () => {
      const { Kept } = await import('/phone/files/any/kept.js');
      const tabs = [new Kept(await openPhoneStore()), new Kept(await openPhoneStore())];
      await Promise.all(tabs.map((tab, n) => tab.keep(`tab-${n}`, n)));
      return Promise.all([0, 1].map((n) => tabs[0].recall(`tab-${n}`)));
    }""")
    assert both == [0, 1]
    page.goto(f"/phone/#{code}")
    card = page.get_by_text(f"under card {code[:4]}-{code[4:8]}")
    expect(card).to_be_visible()
    page.reload()
    expect(card).to_be_visible()
    page.evaluate("""async () => {
      const store = await openPhoneStore();
      await store.change('kept', 'link', (row) => ({ ...row, iv: crypto.getRandomValues(new Uint8Array(12)) }));
    }""")
    page.goto("about:blank")
    page.goto("/phone/#%E0%A4%A")
    expect(page.get_by_text("Something kept on this phone can't be read any more.")).to_be_visible()
    page.locator("#start").click()
    expect(page.locator("[data-washed]")).to_be_visible()


def test_the_code_of_the_card_leaves_the_address_and_is_encrypted_in_the_pages_store(
    browser: Browser, service: Service, code: str, tmp_path: Path
) -> None:
    profile = tmp_path / "profile"
    with kept_phone(browser, service, profile) as context:
        page = open_phone(context, code)
        assert page.url.endswith("/phone/")
        expect(page.get_by_text(f"Reports go out under card {code[:4]}-{code[4:8]}.")).to_be_visible()
    secret = code[8:]
    found = holding(profile, (secret.encode(), secret.encode("utf-16-le")))
    # The browser's own history is the one place no page can clean (config/static/phone/kept.js).
    assert [path for path in found if "IndexedDB" in path or "Storage" in path or "Cache" in path] == []


def test_another_card_and_another_account_change_nothing_about_what_was_written_before(
    browser: Browser, service: Service, code: str, officer: Page
) -> None:
    """A report waits under the member's card; then the lead signs in on the phone and opens the lead's card."""
    page = signed_in(browser, service, "member", PHONE)
    page.goto(f"/phone/#{code}")
    kept_offline(page)
    page.context.set_offline(True)
    page.get_by_role("button", name="Report without the clock").click()
    answer(page, "road", "traffic", "no")
    page.locator("[data-send]").click()
    expect(page.get_by_text("It waits for network and goes by itself.")).to_be_visible()

    page.context.clear_cookies()  # the session has expired
    other = team_card(browser, service, "lead")
    page.goto(f"/phone/#{other}")
    expect(page.get_by_text(f"Reports go out under card {other[:4]}-{other[4:8]}.")).to_be_visible()
    page.context.set_offline(False)
    reference = arrived(page)
    assert "by the phone link of Mika Member" in case_text(officer, reference)
    page.context.close()


def test_a_card_that_comes_after_the_start_takes_the_clock_along_when_told_and_not_before(
    phone: BrowserContext, code: str, officer: Page
) -> None:
    page = phone.new_page()
    page.clock.install()
    page.goto("/phone/")
    page.locator("#start").click()
    answer(page, "bite")
    page.goto(f"/phone/#{code}")
    word = page.get_by_role("button", name="Send word under this card")
    expect(word).to_be_visible()
    page.clock.fast_forward("02:00")
    assert [(row["id"][:5], row["state"]) for row in outbox(page)] == [("draft", "waiting")]
    word.click()
    expect(word).to_have_count(0)
    until(lambda: [row["reference"] != "" for row in outbox(page) if row["kind"] == "alarm"] == [True])
    (reference,) = {row["reference"] for row in outbox(page)} - {""}
    assert "by the phone link of Mika Member" in case_text(officer, reference)
    page.clock.fast_forward("31:00")
    until(lambda: all(row["reference"] == reference for row in outbox(page)))


def test_a_phone_without_a_live_link_learns_a_new_seal_key_and_keeps_it(
    browser: Browser, service: Service
) -> None:
    context = browser.new_context(viewport=PHONE, base_url=service.url, service_workers="block")
    page = context.new_page()
    page.clock.install()
    page.goto("/phone/")
    (seed,) = page.evaluate("JSON.parse(document.getElementById('phone-words').textContent).seed.keys")
    # The service's last word counts: put back from a copy it has a key of an earlier date again.
    last = seed | {"key_id": "last-said", "until": "2026-03-02T06:00:00Z"}
    page.route(
        "**/api/v1/phone/keys/", lambda route: route.fulfill(json={"wash_minutes": 15, "keys": [last]})
    )
    with page.expect_response("**/api/v1/phone/keys/"):
        page.clock.fast_forward("07:00:00")
    assert sealed_to(page) == "last-said"
    page.route("**/api/v1/phone/keys/", lambda route: route.fulfill(body="<h1>Welcome</h1>"))
    page.goto("/phone/")
    assert sealed_to(page) == "last-said"
    context.close()


def sealed_to(page: Page) -> str:
    """The key that the draft of a new report is sealed to."""
    before = len(outbox(page))
    page.get_by_role("button", name="Report without the clock").click()
    answer(page, "road")
    until(lambda: len(outbox(page)) > before)
    return max(outbox(page), key=lambda row: row["made_at"])["key_id"]


def test_forgetting_the_phone_takes_card_and_drafts_and_leaves_what_waits_sealed(
    phone: BrowserContext, code: str
) -> None:
    page = open_phone(phone, code)
    kept_offline(page)
    phone.set_offline(True)
    page.get_by_role("button", name="Report without the clock").click()
    answer(page, "road", "traffic", "no")
    page.locator("[data-send]").click()
    expect(page.locator("[data-send]")).to_have_count(0)
    page.get_by_role("button", name="To the start page").click()
    page.get_by_role("button", name="This phone").click()
    page.get_by_role("button", name="Forget this phone").click()
    page.get_by_role("button", name="Yes, forget all of it").click()
    expect(page.get_by_text("No team card is on this phone yet.")).to_be_visible()
    kept = page.evaluate("async () => (await openPhoneStore()).all('kept')")
    assert kept == []
    phone.set_offline(False)
    arrived(page)


def test_a_tap_counts_though_what_the_network_brings_redraws_the_page_under_the_finger(
    phone: BrowserContext, code: str
) -> None:
    """Between finger down and finger up the button must stay the same one, or the browser makes no tap of them."""
    page = phone.new_page()
    held: list[Route] = []
    page.route("**/api/v1/phone/card/", lambda route: held.append(route))
    page.goto(f"/phone/#{code}")
    button = page.get_by_role("button", name="Report without the clock")
    until(lambda: button.is_visible() and bool(held))
    box = button.bounding_box()
    assert box
    page.mouse.move(box["x"] + 20, box["y"] + 20)
    page.mouse.down()
    held[0].continue_()
    page.wait_for_timeout(1000)
    page.mouse.up()
    expect(page.locator("#question")).to_have_text("What happened?")
    # What has come meanwhile is shown once the finger is off.
    page.go_back()
    expect(page.get_by_text("Lantern Valley")).to_be_visible()
