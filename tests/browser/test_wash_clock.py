"""The report's wash clock on a phone that several people share."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, expect

from tests import needs
from tests.browser.conftest import PHONE, Service

pytestmark = [pytest.mark.browser, pytest.mark.slow, needs.chromium(), pytest.mark.timeout(300)]


def test_a_kept_clock_says_when_it_was_started_and_can_be_put_aside_for_somebody_else(
    browser: Browser, service: Service
) -> None:
    context = browser.new_context(viewport=PHONE, base_url=service.url)
    page = context.new_page()
    started = page.locator("[name=wash_started_at]")
    page.goto("/report/")
    expect(page.get_by_text("This clock was started at")).to_have_count(0)
    page.get_by_role("button", name="Start the wash clock").click()
    page.goto("/report/")
    expect(page.get_by_text(re.compile(r"This clock was started at \d\d:\d\d\."))).to_be_visible()
    kept = started.input_value()
    assert kept

    page.get_by_role("button", name="It is for somebody else").click()
    expect(started).to_have_value("")
    expect(page.get_by_role("button", name="Start the wash clock")).to_be_visible()
    expect(page.locator("[name=washed_minutes]")).to_be_visible()

    page.get_by_role("button", name="Take back the clock").click()
    expect(started).to_have_value(kept)

    page.get_by_role("button", name="It is for somebody else").click()
    page.goto("/report/")
    expect(started).to_have_value("")
    context.close()
