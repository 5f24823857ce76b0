"""The kit on a phone: ticked without network, kept until the service has answered, never under a wrong name."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Error, Locator, Page, Route, expect

from tests import needs
from tests.browser.conftest import PHONE, WIDE, Service, signed_in
from tests.browser.pages import fill
from tests.browser.phone_scene import until
from tests.browser.relay import relay_running
from tests.browser.test_screens import NARROW, check

pytestmark = [pytest.mark.browser, pytest.mark.slow, needs.chromium(), pytest.mark.timeout(300)]

COPY_KEPT = "caches.open('kit-pages').then((c) => c.match(location.pathname)).then(Boolean)"
WORKER_ACTIVE = "navigator.serviceWorker.getRegistration().then((r) => Boolean(r?.active))"
# Nine days back, as the copy of a phone that lay in a drawer.
AGE_COPY = """async () => {
  const cache = await caches.open('kit-pages');
  const copy = await cache.match(location.pathname);
  const headers = new Headers(copy.headers);
  headers.set('X-Kept-At', new Date(Date.now() - 9 * 86_400_000).toISOString());
  await cache.put(location.pathname, new Response(await copy.text(), { headers }));
}"""


@pytest.fixture
def list_at(browser: Browser, service: Service) -> str:
    """The address of the kit of an outing the member is on."""
    page = signed_in(browser, service, "member", WIDE)
    where = fill(page, "{outing}kit/")
    page.context.close()
    return where


@pytest.fixture
def phone(browser: Browser, service: Service) -> Iterator[Page]:
    page = signed_in(browser, service, "member", PHONE)
    yield page
    page.context.close()


def open_list(page: Page, where: str) -> None:
    """The list, kept on the phone: from then on it opens without network."""
    page.goto(where)
    until(lambda: bool(page.evaluate(COPY_KEPT)) and bool(page.evaluate(WORKER_ACTIVE)))


def box(page: Page, item: str) -> str:
    """Whether the item's box is ticked, as somebody who doesn't see hears it."""
    said = row(page, item).get_by_role("button").get_attribute("aria-pressed")
    assert said is not None
    return said


def row(page: Page, item: str) -> Locator:
    return page.locator(f"[data-row$=' {item}']").first


def turn(page: Page, item: str) -> str:
    """Press the box of the item; returns what it then says."""
    row(page, item).get_by_role("button").click()
    return box(page, item)


def as_the_service_has_it(browser: Browser, service: Service, where: str, item: str) -> str:
    page = signed_in(browser, service, "officer", WIDE)
    page.goto(where)
    said = box(page, item)
    page.context.close()
    return said


def test_a_tick_made_offline_outlives_a_reload_without_network_and_arrives_when_it_is_back(
    browser: Browser, service: Service, phone: Page, list_at: str
) -> None:
    open_list(phone, list_at)
    phone.context.set_offline(True)
    before = box(phone, "soap")
    after = turn(phone, "soap")
    assert after != before
    expect(row(phone, "soap")).to_contain_text("not sent yet")
    phone.reload()
    expect(row(phone, "soap")).to_contain_text("not sent yet")
    assert box(phone, "soap") == after
    expect(phone.locator("[data-status]")).to_contain_text("Ticks not sent yet: 1.")
    expect(phone.locator("[data-status]")).to_contain_text("No network: the list is as it was at")
    assert as_the_service_has_it(browser, service, list_at, "soap") == before

    phone.context.set_offline(False)
    expect(phone.locator("[data-status]")).to_have_text("Every tick has arrived.", timeout=15_000)
    assert as_the_service_has_it(browser, service, list_at, "soap") == after


def test_a_tick_waits_on_a_shared_phone_for_its_own_account(
    browser: Browser, service: Service, phone: Page, list_at: str
) -> None:
    open_list(phone, list_at)
    before = box(phone, "forceps")
    phone.context.set_offline(True)
    after = turn(phone, "forceps")
    phone.goto("about:blank")
    phone.context.set_offline(False)

    change_account(phone, "lead")
    phone.goto(list_at)
    expect(phone.locator("[data-status]")).to_have_text(
        re.compile(r"^Ticks of another account kept on this phone: 1\.")
    )
    assert box(phone, "forceps") == before
    assert as_the_service_has_it(browser, service, list_at, "forceps") == before

    change_account(phone, "member")
    phone.goto(list_at)
    until(lambda: as_the_service_has_it(browser, service, list_at, "forceps") == after, seconds=30)
    expect(phone.locator("[data-status]")).to_have_text("Every tick has arrived.")


def change_account(page: Page, username: str) -> None:
    page.context.clear_cookies()
    page.goto("/sign-in/")
    page.fill("[name=username]", username)
    page.fill("[name=password]", "three-fifteen-demo")
    page.click("main button[type=submit]")
    page.wait_for_url(lambda url: "/sign-in/" not in url)


def test_a_list_that_stayed_open_while_somebody_else_signed_in_sends_nothing_under_that_name(
    browser: Browser, service: Service, phone: Page, list_at: str
) -> None:
    open_list(phone, list_at)
    before = box(phone, "antiseptic")
    other = phone.context.new_page()
    change_account(other, "lead")
    turn(phone, "antiseptic")
    expect(phone.locator("[data-status]")).to_contain_text("not sent yet: 1.")
    phone.wait_for_timeout(500)
    assert as_the_service_has_it(browser, service, list_at, "antiseptic") == before


def test_the_sign_in_page_of_some_network_takes_no_tick_away(
    browser: Browser, service: Service, list_at: str
) -> None:
    """It answers everything with a page of its own and 200."""
    page = signed_in(browser, service, "member", PHONE, service_workers="block")
    page.goto(list_at)
    before = box(page, "first-aid")

    def portal(route: Route) -> None:
        route.fulfill(status=200, content_type="text/html", body="<h1>Welcome to our network</h1>")

    page.route("**/outings/**", portal)
    after = turn(page, "first-aid")
    expect(page.locator("[data-status]")).to_contain_text("Ticks not sent yet: 1.")
    page.unroute("**/outings/**")
    page.evaluate("dispatchEvent(new Event('online'))")
    expect(page.locator("[data-status]")).to_have_text("Every tick has arrived.", timeout=15_000)
    assert before != after == as_the_service_has_it(browser, service, list_at, "first-aid")
    page.context.close()


def test_a_copy_goes_with_the_sign_in_page_and_after_a_week(phone: Page, list_at: str) -> None:
    open_list(phone, list_at)
    phone.evaluate(AGE_COPY)
    phone.context.set_offline(True)
    with pytest.raises(Error, match="ERR_"):
        phone.goto(list_at)
    phone.context.set_offline(False)
    open_list(phone, list_at)
    phone.locator("summary", has_text="Menu").click()
    phone.get_by_role("button", name="Sign out").click()
    until(lambda: phone.evaluate("caches.has('kit-pages')") is False)
    phone.context.set_offline(True)
    with pytest.raises(Error, match="ERR_"):
        phone.goto(list_at)


def test_a_network_that_hangs_is_waited_for_three_seconds(
    browser: Browser, service: Service, phone: Page, list_at: str
) -> None:
    with relay_running(service) as relay:
        # Cookies know no port: the account is signed in there too.
        open_list(phone, f"{relay.url}{list_at}")
        phone.reload()
        relay.slow[list_at] = 20.0
        began = phone.evaluate("Date.now()")
        phone.goto(f"{relay.url}{list_at}", wait_until="commit")
        expect(phone.locator(".kit-list").first).to_be_visible()
        assert 2_900 < phone.evaluate("Date.now()") - began < 10_000


def test_the_list_is_ticked_by_the_keyboard_alone(phone: Page, list_at: str) -> None:
    phone.goto(list_at)
    first = phone.locator(".tick").first
    before = first.get_attribute("aria-pressed")
    for _press in range(40):
        phone.keyboard.press("Tab")
        if phone.evaluate("document.activeElement.classList.contains('tick')"):
            break
    phone.keyboard.press("Space")
    expect(first).not_to_have_attribute("aria-pressed", before or "")
    phone.keyboard.press("Tab")
    assert phone.evaluate("document.activeElement.classList.contains('tick')")
    phone.keyboard.press("Shift+Tab")
    phone.keyboard.press("Enter")
    expect(first).to_have_attribute("aria-pressed", before or "")


@pytest.mark.parametrize("size", [NARROW, WIDE], ids=["320px", "wide"])
def test_a_list_with_unsent_ticks_passes_axe_and_fits_its_window(
    phone: Page, list_at: str, size: dict[str, int]
) -> None:
    phone.set_viewport_size(size)  # type: ignore[arg-type]
    open_list(phone, list_at)
    phone.context.set_offline(True)
    turn(phone, "water")
    expect(phone.locator("[data-status]")).to_contain_text("No network")
    assert check(phone, list_at) == []
