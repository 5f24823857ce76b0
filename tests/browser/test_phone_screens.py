"""The phone's page in every state: axe, targets, zoom, keyboard, a slow line, and what is switched off."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route, expect

from tests import needs
from tests.browser.conftest import PHONE, Service
from tests.browser.phone_scene import BITE, READY, answer, open_phone, team_card, until
from tests.browser.relay import relay_running
from tests.browser.test_screens import check, fits

pytestmark = [pytest.mark.browser, pytest.mark.slow, needs.chromium(), needs.once(), pytest.mark.timeout(300)]

# 320 px, and 640 px at 200 %, which leaves as much room.
WINDOWS = {
    "320 px": {"viewport": {"width": 320, "height": 640}},
    "200 %": {"viewport": {"width": 320, "height": 450}, "device_scale_factor": 2},
}


Look = Callable[[Page, str], list[str]]


@pytest.fixture(scope="module")
def code(browser: Browser, service: Service) -> str:
    return team_card(browser, service, "member")


def press(name: str) -> Callable[[Page], None]:
    return lambda page: page.get_by_role("button", name=name, exact=True).first.click()


def one_more(value: str) -> Callable[[Page], None]:
    return lambda page: void(answer(page, value))


def void(_taps: int) -> None:
    return None


def stay(_page: Page) -> None:
    """The state is there already."""


def code_typed_wrong(page: Page) -> None:
    page.locator("#code").fill("K7Q2")
    press("Use this code")(page)


# Every state, each reached from the one before.
STATES: list[tuple[str, Callable[[Page], None]]] = [
    ("no card", stay),
    ("clinics without a card", press("Clinics")),
    ("start", press("To the start page")),
    ("crew without a card", press("My crew")),
    ("code", press("Enter the card code")),
    ("wrong code", code_typed_wrong),
]
CARD_STATES: list[tuple[str, Callable[[Page], None]]] = [
    ("with a card", stay),
    ("this phone", press("This phone")),
    ("forget?", press("Forget this phone")),
    ("kept", press("Keep it")),
    ("start", press("To the start page")),
    ("crew", press("My crew")),
    ("sign in first", press("Take my crew along")),
    ("near miss", press("Near miss")),
    ("near miss kept", press("netting")),
    ("start again", press("To the start page")),
    ("clock", press("Start the wash clock")),
    ("washing said", press("soap and running water")),
    *[(value, one_more(value)) for value in BITE],
    ("no place", press("Add where I am")),
    ("sent", press("Send the report")),
    ("clinics", press("Clinics")),
    ("start at last", press("To the start page")),
]


def walk(browser: Browser, service: Service, code: str, window: str, look: Look) -> None:
    """Every state in that window, each looked at; fails with all faults at once."""
    faults: list[str] = []
    for states, opened_with in ((STATES, ""), (CARD_STATES, code)):
        context = browser.new_context(base_url=service.url, **WINDOWS[window])  # type: ignore[arg-type]
        page = open_phone(context, opened_with)
        for name, step in states:
            step(page)
            faults += look(page, name)
        context.close()
    assert not faults, "\n".join(faults)


def test_every_state_passes_axe_at_320_px_with_large_targets(
    browser: Browser, service: Service, code: str
) -> None:
    walk(browser, service, code, "320 px", check)


def test_every_state_fits_at_200_per_cent_with_large_targets(
    browser: Browser, service: Service, code: str
) -> None:
    """axe reads the same page as at 320 px; what zoom changes is what fits."""
    walk(browser, service, code, "200 %", fits)


def test_stopping_early_passes_axe_too(browser: Browser, service: Service) -> None:
    context = browser.new_context(base_url=service.url, **WINDOWS["320 px"])  # type: ignore[arg-type]
    page = open_phone(context)
    page.locator("#start").click()
    page.wait_for_timeout(1600)
    page.locator("[data-stop]").click()
    faults = check(page, "stop?")
    press("Stop all the same")(page)
    faults += check(page, "stopped")
    context.close()
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize(
    ("address", "steps", "open_still"),
    [
        ("**/api/v1/phone/card/", ("This phone", "Forget this phone"), "Yes, forget all of it"),
        ("**/phone/crew/", ("My crew", "Take my crew along", "Near miss"), "netting"),
    ],
    ids=["field card", "crew"],
)
def test_what_comes_late_over_the_network_closes_nothing_that_is_open(
    browser: Browser, service: Service, code: str, address: str, steps: tuple[str, ...], open_still: str
) -> None:
    context = browser.new_context(viewport=PHONE, base_url=service.url)
    # Otherwise the worker takes the page over meanwhile and its requests go past the route.
    context.route("**/phone/worker.js", lambda route: route.abort())
    page = context.new_page()
    held: list[Route] = []
    page.route(address, lambda route: held.append(route))
    page.goto(f"/phone/#{code}")
    for step in steps:
        press(step)(page)
    until(lambda: bool(page.evaluate("true") and held))
    with page.expect_response(address):
        held[0].continue_()
    page.wait_for_timeout(1500)
    expect(page.get_by_role("button", name=open_still, exact=True)).to_be_visible()
    context.close()


def test_the_keyboard_alone_washes_and_reports(browser: Browser, service: Service, code: str) -> None:
    context = browser.new_context(viewport=PHONE, base_url=service.url)
    page = open_phone(context, code)
    tab_to(page, "Start the wash clock")
    page.keyboard.press("Enter")
    for value in ("road incident", "traffic", "no"):
        asked = page.locator("#question").inner_text()
        expect(page.locator("#question")).to_be_focused()
        tab_to(page, value)
        page.keyboard.press("Enter")
        expect(page.locator("#question")).not_to_have_text(asked)
    page.keyboard.press("Tab")
    page.keyboard.type("Slid on gravel.")
    tab_to(page, "Send the report")
    page.keyboard.press("Enter")
    expect(page.get_by_text("Your report has arrived")).to_be_visible(timeout=30_000)
    context.close()


def tab_to(page: Page, name: str) -> None:
    for _press in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent.trim()") == name:
            return
    raise AssertionError(f"no way by Tab to {name}")


@pytest.fixture
def slow(browser: Browser, service: Service) -> Iterator[BrowserContext]:
    context = browser.new_context(viewport=PHONE, base_url=service.url)
    yield context
    context.close()


def slow_line(page: Page) -> None:
    session = page.context.new_cdp_session(page)
    session.send("Network.enable")
    rate = 400 * 1000 / 8
    session.send(
        "Network.emulateNetworkConditions",
        {"offline": False, "latency": 400, "downloadThroughput": rate, "uploadThroughput": rate},
    )


# When the clock could be started, in milliseconds since the visit began, noted by the page itself.
USABLE = """
new MutationObserver(() => {
  const start = document.getElementById('start');
  if (start && !start.disabled && !window.usableAt) window.usableAt = performance.now();
}).observe(document, { subtree: true, childList: true, attributes: true });
"""


def test_on_a_slow_line_the_clock_is_usable_in_three_seconds_and_at_once_the_next_time(
    slow: BrowserContext,
) -> None:
    page = slow.new_page()
    page.add_init_script(USABLE)
    slow_line(page)
    page.goto("/phone/", wait_until="commit")
    until(lambda: bool(page.evaluate("window.usableAt")))
    first = page.evaluate("window.usableAt")
    until(lambda: bool(page.evaluate(READY)))
    until(lambda: bool(page.evaluate("navigator.serviceWorker.controller !== null")))
    page.goto("/phone/", wait_until="commit")
    until(lambda: bool(page.evaluate("window.usableAt")))
    again = page.evaluate("window.usableAt")
    print(f"usable after {first:.0f} ms, then {again:.0f} ms")
    assert first <= 3000
    assert again < 400, "the next visit waited for the network"


def test_a_tap_before_the_page_is_whole_starts_the_clock(slow: BrowserContext) -> None:
    page = slow.new_page()
    page.route("**/app.js", lambda route: (page.wait_for_timeout(1500), route.continue_()))
    page.goto("/phone/", wait_until="commit")
    page.locator("#start").click()
    expect(page.locator("#first-face")).to_be_visible()
    expect(page.locator("[data-washed]")).to_be_visible(timeout=20_000)
    expect(page.locator("#question")).to_have_text("What happened?")


def test_the_first_visit_weighs_at_most_sixty_kilobytes_with_the_worker_and_all(
    browser: Browser, service: Service
) -> None:
    with relay_running(service) as relay:
        context = browser.new_context(viewport=PHONE, base_url=relay.url)
        page = open_phone(context)
        until(lambda: bool(page.evaluate("navigator.serviceWorker.controller !== null")))
        page.wait_for_timeout(500)
        context.close()
    print(f"{relay.bytes} bytes in {len(relay.requests)} requests")
    assert "GET /phone/worker.js" in relay.requests
    assert relay.bytes <= 60_000


def test_without_scripts_the_page_sends_to_the_plain_form(browser: Browser, service: Service) -> None:
    context = browser.new_context(viewport=PHONE, base_url=service.url, java_script_enabled=False)
    page = context.new_page()
    page.goto("/phone/")
    expect(page.get_by_text("While the button stays grey, no script runs here.")).to_be_visible()
    page.get_by_role("link", name="Report a bite").click()
    expect(page.locator("form#report")).to_be_visible()
    context.close()


def test_without_a_store_the_page_works_and_says_to_stay(browser: Browser, service: Service) -> None:
    context = browser.new_context(viewport=PHONE, base_url=service.url)
    context.add_init_script(
        "Object.defineProperty(window, 'indexedDB', { value: { open() { throw new Error('refused'); } } });"
    )
    page = open_phone(context)
    expect(page.get_by_text("stay on this page until the report has arrived")).to_be_visible()
    page.locator("#start").click()
    answer(page, "bite", "hand")
    context.close()


def test_without_webcrypto_the_clock_works_nothing_is_kept_and_the_plain_form_is_offered(
    browser: Browser, service: Service
) -> None:
    context = browser.new_context(viewport=PHONE, base_url=service.url)
    context.add_init_script("Object.defineProperty(Crypto.prototype, 'subtle', { value: undefined });")
    page = open_phone(context)
    page.locator("#start").click()
    expect(page.locator("[data-washed]")).to_be_visible()
    expect(page.get_by_text("nothing you type is kept on this phone")).to_be_visible()
    expect(page.get_by_role("link", name="Report on the plain page")).to_be_visible()
    kept = page.evaluate("""async () => {
      const store = await openPhoneStore();
      return (await Promise.all(['outbox', 'kept', 'keys'].map((name) => store.all(name)))).flat();
    }""")
    assert kept == []
    context.close()
