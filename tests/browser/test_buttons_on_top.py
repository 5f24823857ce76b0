"""Every button of a person's page can be pressed: at its centre nothing lies over it."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser

from tests import needs
from tests.browser.conftest import PHONE, WIDE, Service, signed_in
from tests.browser.pages import fill

pytestmark = [pytest.mark.browser, pytest.mark.slow, needs.chromium(), needs.once(), pytest.mark.timeout(300)]

COVERED = """
() => [...document.querySelectorAll('main button, main .button')].filter(e => e.offsetParent).filter(e => {
  e.scrollIntoView({block: 'center', inline: 'nearest'});
  const box = e.getBoundingClientRect();
  const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
  return !(top && (e === top || e.contains(top)));
}).map(e => e.outerHTML.slice(0, 120))
"""


@pytest.mark.parametrize("size", [PHONE, WIDE], ids=["360px", "1280px"])
def test_no_button_of_a_persons_page_lies_under_anything(
    browser: Browser, service: Service, size: dict[str, int]
) -> None:
    page = signed_in(browser, service, "officer", size)
    where = fill(page, "{person}")
    page.goto(f"{where}titres/add/")
    today = page.evaluate("() => new Date(Date.now() - 86400000).toISOString().slice(0, 10)")
    page.fill("[name=taken_on]", today)
    page.fill("[name=iu_per_ml]", "1.2")
    page.fill("[name=laboratory]", "Laboratory of the test with a long name")
    page.locator("[name=evidence]").first.check() if page.locator(
        "[type=radio][name=evidence]"
    ).count() else (page.select_option("[name=evidence]", index=1))
    page.click("main form button[type=submit]")
    page.goto(where)
    assert page.locator("a[href*='/titres/'][href$='/void/']").count()
    assert page.evaluate(COVERED) == []
    page.context.close()
