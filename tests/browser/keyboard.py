"""Going through a page with the keyboard alone."""

from __future__ import annotations

from playwright.sync_api import Page

# More stops than any of these pages has: a control that isn't reached by then can't be reached.
STOPS = 200
FOCUSED = """() => {
    const it = document.activeElement;
    const label = it.labels && it.labels.length ? it.labels[0].innerText : '';
    return [it.getAttribute('name') || '', (label || it.innerText || '').replace(/\\s+/g, ' ').replace(' :', ':').trim()];
}"""


def tab_to(page: Page, wanted: str) -> None:
    """Press Tab until the control with that name or those words, or those and a colon, has the focus."""
    for _stop in range(STOPS):
        page.keyboard.press("Tab")
        if any(words == wanted or words.startswith(f"{wanted}:") for words in page.evaluate(FOCUSED)):
            return
    raise AssertionError(f"Tab never reaches {wanted}")


def skip_to_content(page: Page) -> None:
    """Past the head and the menu, by the first stop of every page."""
    tab_to(page, "Skip to the content")
    page.keyboard.press("Enter")


def press(page: Page, wanted: str) -> None:
    tab_to(page, wanted)
    with page.expect_navigation():
        page.keyboard.press("Enter")


def write(page: Page, name: str, words: str) -> None:
    """Tab selects what stands in a field, so typing takes its place."""
    tab_to(page, name)
    page.keyboard.type(words)
