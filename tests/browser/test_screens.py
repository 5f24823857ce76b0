"""Every page, phone-sized and wide: axe-core finds nothing, nothing is cut off, targets are large enough."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests import needs
from tests.browser.conftest import WIDE, Service, signed_in
from tests.browser.pages import PAGES, fill

pytestmark = [pytest.mark.browser, pytest.mark.slow, needs.chromium(), needs.once(), pytest.mark.timeout(300)]

NARROW = {"width": 320, "height": 640}
# Controls that stand alone; links inside a sentence or a table cell follow the text (WCAG 2.5.8 exempts them).
SMALL_TARGETS = """
() => [...document.querySelectorAll('button, .button, input:not([type=hidden]), select, textarea, nav a, summary')]
  .filter(e => e.offsetParent && !e.closest('.visually-hidden'))
  .filter(e => {
     const inLabel = ['radio', 'checkbox'].includes(e.type) ? e.labels[0] || e : e;
     return inLabel.getBoundingClientRect().height < 47.5;
  })
  .map(e => e.outerHTML.slice(0, 120))
"""
OVERFLOW = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"


def check(page: Page, path: str) -> list[str]:
    """By axe-core and by measure, narrow and wide: the styles alone lay a page out, so it is resized and not loaded anew."""
    axe = Axe()
    page.evaluate(axe.axe_script)
    faults = []
    for size in (NARROW, WIDE):
        page.set_viewport_size(size)
        where = f"{path} at {size['width']} px"
        found = page.evaluate("axe.run({resultTypes: ['violations']}).then(results => results.violations)")
        faults += [f"{where}: {one['id']}: {one['nodes'][0]['html'][:120]}" for one in found]
        faults += fits(page, where)
    return faults


def fits(page: Page, path: str) -> list[str]:
    """Nothing wider than the window, nothing too small for a thumb."""
    faults = [f"{path}: small target {html}" for html in page.evaluate(SMALL_TARGETS)]
    if (too_wide := page.evaluate(OVERFLOW)) > 0:
        faults.append(f"{path}: {too_wide} px wider than the window")
    return faults


# Twenty pages at a time, so that each part stays well within its time on a slow machine.
PARTS = [
    pytest.param(name, pages[first : first + 20], id=f"{name or 'nobody'}-{first}")
    for name, pages in PAGES.items()
    for first in range(0, len(pages), 20)
]


@pytest.mark.parametrize(("username", "pages"), PARTS)
def test_every_page_passes_axe_and_fits_its_window(
    browser: Browser, service: Service, username: str, pages: tuple[str, ...]
) -> None:
    page = (
        signed_in(browser, service, username, NARROW)
        if username
        else browser.new_context(viewport=NARROW, base_url=service.url).new_page()  # type: ignore[arg-type]
    )
    faults: list[str] = []
    links: dict[str, str] = {}
    for path in pages:
        where = fill(page, path, links)
        page.goto(where)
        faults += check(page, where)
    page.context.close()
    assert not faults, "\n".join(faults)
