"""Make the README's pictures: `python -m tests.browser.screenshots`, beside a running `manage.py up` with the demo."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

from safety.demo.accounts import PASSWORD
from tests.browser.pages import fill
from tests.needs import chromium_path

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "screens"
QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
]
PICTURES = (
    ("officer", "/readiness/", 1280, 900, "officer-readiness"),
    ("member", "/report/", 360, 740, "member-report"),
    ("liaison", "/desk/", 1280, 900, "liaison-desk"),
)


def main() -> None:
    base = f"http://127.0.0.1:{os.environ.get('PORT', '8000')}"
    FOLDER.mkdir(exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_path(), args=QUIET)
        for username, path, width, height, name in PICTURES:
            page = browser.new_context(viewport={"width": width, "height": height}, base_url=base).new_page()
            page.goto("/sign-in/")
            page.fill("[name=username]", username)
            page.fill("[name=password]", PASSWORD)
            page.click("main button[type=submit]")
            page.goto(fill(page, path))
            page.screenshot(path=FOLDER / f"{name}.png")
            sys.stdout.write(f"{name}.png\n")
        browser.close()


if __name__ == "__main__":
    main()
