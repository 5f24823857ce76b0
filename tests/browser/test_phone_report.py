"""The first minute on the phone: the clock, the report in twelve taps, the crew, and what the officer then sees."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests import needs
from tests.browser.conftest import PHONE, Service, signed_in
from tests.browser.phone_scene import (
    BITE,
    answer,
    arrived,
    case_text,
    holding,
    officer,
    open_phone,
    outbox,
    team_card,
    until,
)

__all__ = ["officer"]
pytestmark = [pytest.mark.browser, pytest.mark.slow, needs.chromium(), pytest.mark.timeout(300)]

LANTERN_VALLEY = "Africa/Nairobi"


@pytest.fixture(scope="module")
def code(browser: Browser, service: Service) -> str:
    return team_card(browser, service, "member")


@pytest.fixture
def phone(browser: Browser, service: Service) -> Iterator[BrowserContext]:
    """A phone whose clock the test sets; nobody is signed in on it."""
    context = browser.new_context(viewport=PHONE, base_url=service.url)
    yield context
    context.close()


def start(page: Page) -> None:
    page.locator("#start").click()
    expect(page.locator("[data-washed]")).to_be_visible()


def test_washing_starts_with_one_tap_before_any_question_or_sign_in(phone: BrowserContext) -> None:
    page = open_phone(phone)
    start(page)
    assert "/sign-in/" not in page.url
    expect(page.locator("#question")).to_have_text("What happened?")


def test_a_whole_report_takes_twelve_taps_and_one_typed_field(
    phone: BrowserContext, code: str, officer: Page
) -> None:
    page = open_phone(phone, code)
    taps = 1
    start(page)
    page.get_by_role("button", name="soap and running water").click()
    taps += 1 + answer(page, *BITE)
    page.locator("textarea").fill("It turned its head in the net.")
    page.locator("[data-send]").click()
    taps += 1
    assert taps <= 12
    text = case_text(officer, arrived(page))
    for fact in ("Bitten; hand or fingers", "bled: yes", "Roaming dog", "Collaring", "Hand near the mouth", "It turned its head in the net."):  # fmt: skip
        assert fact in text, fact


def test_the_code_of_a_card_that_was_opened_and_used_stands_in_no_file_of_the_service(
    phone: BrowserContext, code: str, service: Service
) -> None:
    page = open_phone(phone, code)
    page.get_by_role("button", name="Report without the clock").click()
    answer(page, "road", "traffic", "no")
    page.locator("[data-send]").click()
    arrived(page)
    # Logs, and on the embedded default the database and the broker; the selector in front is no secret.
    secret = code[8:].encode()
    assert holding(service.data_dir, (b"celery beat",)), "the search looks in the wrong place"
    assert holding(service.data_dir, (secret, secret.lower())) == []


def test_the_clock_comes_from_its_start_and_survives_a_reload(phone: BrowserContext) -> None:
    page = phone.new_page()
    page.clock.install()
    page.goto("/phone/")
    start(page)
    page.clock.fast_forward("09:30")
    expect(page.locator("[data-washed]")).to_have_text(re.compile(r"9:3\d"))
    page.reload()
    expect(page.locator("[data-washed]")).to_have_text(re.compile(r"9:3\d"))
    expect(page.locator("#announce")).to_have_text("Washed 9 minutes, 6 minutes to go.")


def test_stopping_early_says_how_much_is_missing_and_spells_add_up(phone: BrowserContext) -> None:
    page = phone.new_page()
    page.clock.install()
    page.goto("/phone/")
    start(page)
    page.clock.fast_forward("04:00")
    page.locator("[data-stop]").click()
    expect(page.locator("#ask-on")).to_have_text(re.compile(r"Washed 4:0\d; 1[01]:[05]\d are missing"))
    page.get_by_role("button", name="Stop all the same").click()
    expect(page.get_by_text("Iodine or a like antiseptic afterwards?")).to_be_visible()
    page.clock.fast_forward("30:00")
    page.get_by_role("button", name="Wash on").click()
    page.clock.fast_forward("11:00")
    expect(page.locator("[data-left]")).to_contain_text("long enough")
    page.locator("[data-stop]").click()
    expect(page.locator("#ask-on")).to_have_count(0)
    expect(page.locator("[data-stop]")).to_have_count(0)


def test_a_clock_started_by_mistake_is_taken_back_within_the_minute_and_nothing_goes_out(
    phone: BrowserContext, code: str
) -> None:
    page = open_phone(phone, code)
    start(page)
    assert [row["kind"] for row in outbox(page)] == ["alarm"]
    page.locator("[data-take-back]").click()
    expect(page.get_by_text("Taken back; nothing was sent.")).to_be_visible()
    assert outbox(page) == []


def test_an_unanswered_clock_tells_the_service_after_a_minute_and_its_end_too(
    phone: BrowserContext, code: str, officer: Page
) -> None:
    page = phone.new_page()
    page.clock.install()
    page.goto(f"/phone/#{code}")
    start(page)
    page.clock.fast_forward("16:00")
    page.locator("[data-stop]").click()
    page.clock.fast_forward("00:40")
    expect(page.locator("[data-left]")).to_contain_text("long enough")
    until(lambda: sorted(row["state"] for row in outbox(page)) == ["sent", "sent"])
    reference = outbox(page)[0]["reference"]
    assert "Washed for 16:0" in case_text(officer, reference)


def test_back_goes_to_the_question_before_with_its_answer_marked(phone: BrowserContext) -> None:
    page = open_phone(phone)
    start(page)
    answer(page, "scratch", "leg")
    page.go_back()
    expect(page.locator("#question")).to_have_text("Where on the body?")
    expect(page.locator("[data-value=leg]")).to_have_attribute("aria-pressed", "true")
    page.get_by_role("button", name="Back", exact=True).click()
    expect(page.locator("#question")).to_have_text("What happened?")


def test_several_places_are_several_wounds(phone: BrowserContext, code: str, officer: Page) -> None:
    page = open_phone(phone, code)
    page.get_by_role("button", name="Report without the clock").click()
    answer(page, "bite", "not-washed")
    page.get_by_role("button", name="More than one").click()
    page.locator("[data-value=hand]").click()
    page.locator("[data-value=arm]").click()
    page.get_by_role("button", name="Next").click()
    answer(page, *BITE[2:])
    page.locator("[data-send]").click()
    text = case_text(officer, arrived(page))
    assert "Bitten; hand or fingers" in text
    assert "Bitten; arm" in text
    assert "not washed" in text


def test_the_place_is_added_only_by_a_tap_and_a_refusal_costs_nothing(phone: BrowserContext) -> None:
    page = open_phone(phone)
    page.get_by_role("button", name="Report without the clock").click()
    answer(page, "road", "traffic", "no")
    page.locator("[data-place]").click()
    expect(page.get_by_text("The phone gave no place. The report is fine without it.")).to_be_visible()
    phone.grant_permissions(["geolocation"])
    phone.set_geolocation({"latitude": -1.3, "longitude": 36.8, "accuracy": 12})
    page.locator("[data-place]").click()
    expect(page.get_by_text("The place is added, accurate to 12 m.")).to_be_visible()


def test_without_a_card_the_code_is_asked_for_when_the_report_goes(
    phone: BrowserContext, code: str, officer: Page
) -> None:
    page = open_phone(phone)
    page.get_by_role("button", name="Report without the clock").click()
    answer(page, "road", "traffic", "no")
    page.locator("[data-send]").click()
    page.locator("#code").fill("K7Q2-MN")
    page.get_by_role("button", name="Send the report").click()
    expect(page.get_by_text("This isn't a whole code")).to_be_visible()
    spelled = "-".join(code[at : at + 4] for at in range(0, 34, 4)).lower()
    page.locator("#code").fill(spelled)
    page.get_by_role("button", name="Send the report").click()
    assert "Road incident" in case_text(officer, arrived(page))


def test_a_lead_reports_for_the_crew_notes_a_near_miss_in_two_taps_and_counts_dogs(
    browser: Browser, service: Service, officer: Page
) -> None:
    # The demo has an outing of today with the lead on it.
    code = team_card(browser, service, "lead")
    page = signed_in(browser, service, "lead", PHONE)
    page.goto(f"/phone/#{code}")
    page.get_by_role("button", name="My crew").click()
    page.get_by_role("button", name="Take my crew along").click()
    expect(page.locator("ul.crew").first.locator("li").first).to_be_visible()
    name = page.locator("ul.crew").first.locator("li span").first.inner_text()

    page.locator("[data-near-miss]").click()
    page.get_by_role("group", name="At which task?").get_by_role("button", name="netting").click()
    expect(page.get_by_text("Near miss kept: netting.")).to_be_visible()
    for _dog in range(3):
        page.locator("[data-more=injecting]").click()
    kinds = sorted(row["kind"] for row in outbox(page))
    assert kinds == ["handled", "report"]

    page.get_by_role("button", name=f"Report for {name}").click()
    expect(page.locator(".origin")).to_have_text(f"For {name}.")
    answer(
        page,
        "scratch",
        "unknown",
        "arm",
        "broken",
        "dog-owned",
        "none-seen",
        "owner",
        "holding",
        "unknown",
        "no",
    )
    page.locator("[data-send]").click()
    reference = arrived(page)
    expect(page.get_by_text(f"For {name}.").last).to_be_visible()
    assert name in case_text(officer, reference)
    page.context.close()


def test_the_crews_names_go_when_the_day_is_over_though_the_page_is_left_open(
    browser: Browser, service: Service, code: str
) -> None:
    context = browser.new_context(viewport=PHONE, base_url=service.url, service_workers="block")
    page = context.new_page()
    page.clock.install()
    ends_at = (datetime.now(UTC) + timedelta(hours=2)).isoformat()
    crew = {
        "date": "2026-03-02",
        "ends_at": ends_at,
        "area": "Terrace",
        "outing": 1,
        "people": [{"id": 1, "name": "Kit"}],
    }
    page.route("**/phone/crew/", lambda route: route.fulfill(json=crew))
    page.goto(f"/phone/#{code}")
    page.get_by_role("button", name="My crew").click()
    page.get_by_role("button", name="Take my crew along").click()
    expect(page.get_by_role("button", name="Report for Kit")).to_be_visible()
    page.reload()
    page.get_by_role("button", name="Report without the clock").click()
    expect(page.get_by_role("button", name="Kit")).to_be_visible()
    page.clock.fast_forward("02:01:00")
    expect(page.get_by_text("Kit")).to_have_count(0)
    expect(page.locator("#question")).to_have_text("What happened?")
    assert "crew" not in page.evaluate(
        "async () => (await (await openPhoneStore()).all('kept')).map(({ id }) => id)"
    )
    context.close()


def test_a_clock_that_ran_for_over_an_hour_asks_how_long_the_washing_was(phone: BrowserContext) -> None:
    page = phone.new_page()
    page.clock.install()
    page.goto("/phone/")
    start(page)
    page.clock.fast_forward("01:30:00")
    page.reload()
    expect(page.get_by_text("The clock has run for 90 minutes. How long was the washing?")).to_be_visible()
    page.get_by_role("button", name="10 minutes").click()
    expect(page.locator("[data-washed]")).to_have_text("10:00")
