"""An officer plans a campaign's field work without touching the mouse: areas, days, outings, and who was told."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from tests import needs
from tests.browser.conftest import WIDE, Service, signed_in
from tests.browser.keyboard import press, tab_to, write

pytestmark = [pytest.mark.browser, pytest.mark.slow, needs.chromium(), pytest.mark.timeout(300)]


def add_area(page: Page, name: str, days: int, adults: int) -> None:
    press(page, "Add an area")
    write(page, "name", name)
    write(page, "days", str(days))
    write(page, "adults", str(adults))
    press(page, "Add the area")
    expect(page.get_by_role("rowheader", name=name)).to_be_visible()


def test_areas_become_outings_and_are_recorded_as_told_by_keyboard_alone(
    browser: Browser, service: Service
) -> None:
    page = signed_in(browser, service, "officer", WIDE)
    press(page, "Campaigns")
    press(page, "Dry season round")
    press(page, "Field work")
    before = page.locator("#outings tbody tr").count()
    add_area(page, "Chalk Pit", days=3, adults=20)
    add_area(page, "Weir Side", days=2, adults=9)
    press(page, "Show the days")
    expect(page.locator("#preview table").last).to_contain_text("Chalk Pit")
    cells = page.locator("#preview td", has_text="to plan")
    # Five of these areas, two of the one the demo leaves to plan.
    expect(cells).to_have_count(7)
    press(page, "Plan these outings")
    expect(page.get_by_text("7 outings are planned.")).to_be_visible()
    expect(page.locator("#outings tbody tr")).to_have_count(before + 7)
    tell(page)
    page.context.close()


def tell(page: Page) -> None:
    told = page.locator("#outings tbody tr", has_text="told in time")
    before = told.count()
    press(page, "Record that the community was told")
    tab_to(page, "outings")
    page.keyboard.press("Space")
    write(page, "who", "the elders of the lane")
    write(page, "how", "a visit")
    press(page, "Record it for these outings")
    expect(told).to_have_count(before + 1)
