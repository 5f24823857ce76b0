"""Noting who came to a session, by keyboard alone, and the form in each state it can be in."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from tests import needs
from tests.browser.conftest import WIDE, Service, signed_in
from tests.browser.pages import fill
from tests.browser.test_screens import NARROW, check

pytestmark = [pytest.mark.browser, pytest.mark.slow, needs.chromium(), pytest.mark.timeout(300)]


def form_of_who_came(browser: Browser, service: Service, size: dict[str, int]) -> Page:
    page = signed_in(browser, service, "liaison", size)
    page.goto(fill(page, "{session}given/"))
    return page


def tab_to(page: Page, selector: str) -> None:
    """Press Tab until the element has the focus: somebody without a mouse can get there."""
    for _press in range(80):
        page.keyboard.press("Tab")
        if page.evaluate("s => document.activeElement.matches(s)", selector):
            return
    raise AssertionError(f"Tab never reaches {selector}")


@pytest.mark.parametrize("size", [NARROW, WIDE], ids=["320px", "wide"])
def test_a_row_shows_what_goes_with_its_answer_and_every_state_is_accessible(
    browser: Browser, service: Service, size: dict[str, int]
) -> None:
    page = form_of_who_came(browser, service, size)
    row = page.locator(".given-table tbody tr:has(select)").first
    batch, reason = row.locator("[name$=-batch]"), row.locator("[name$=-reason]")
    expect(batch).not_to_be_visible()
    expect(reason).not_to_be_visible()
    row.locator("select").select_option("absent")
    expect(reason).to_be_visible()
    row.locator("select").select_option("given")
    expect(batch).to_be_visible()
    expect(reason).not_to_be_visible()
    page.locator("details summary", has_text="isn't on the list").click()
    page.fill("[name=new0-number]", "nobody-1")
    faults = check(page, "opened")
    batch.fill("kept in the form")
    row.locator("select").select_option("refused")
    page.get_by_role("button", name="Keep what happened").click()
    expect(page.locator(".error-summary a")).to_have_count(2)
    expect(page.locator("[value='kept in the form']")).to_be_visible()
    faults += check(page, "refused")
    page.context.close()
    assert not faults, "\n".join(faults)


def test_all_given_except_one_takes_the_keyboard_alone(browser: Browser, service: Service) -> None:
    page = form_of_who_came(browser, service, WIDE)
    away = page.locator(".given-table tbody tr:has(select)").first
    name = away.locator("th").inner_text().split("\n")[0].strip()
    people = page.locator(".given-table select").count()
    tab_to(page, "[name=rest]")
    page.keyboard.press("ArrowUp")
    expect(page.locator("[name=rest][value=given]")).to_be_checked()
    tab_to(page, "[name=batch]")
    page.keyboard.type("K7")
    tab_to(page, ".given-table select")
    page.keyboard.type("didn")
    tab_to(page, "[name$=-reason]")
    page.keyboard.type("on leave")
    tab_to(page, "form button[type=submit].button")
    page.keyboard.press("Enter")
    expect(page.locator("[role=status]").first).to_contain_text(f"{people - 1} doses are on record")
    line = page.locator("tbody tr", has_text=name[:8])
    expect(line).to_contain_text("didn't come: on leave")
    expect(page.locator("tbody td", has_text="K7")).to_have_count(people - 1)
    page.context.close()
