"""The short form of tests/browser/clinics_agree.py: the phone and the service name the same clinic in the same words."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, expect

from tests import needs
from tests.browser.clinics_agree import differing
from tests.browser.conftest import PHONE, Service
from tests.browser.phone_scene import answer, open_phone, team_card

pytestmark = [pytest.mark.browser, pytest.mark.slow, needs.chromium(), needs.once(), pytest.mark.timeout(300)]


def test_three_hundred_random_tables_give_one_clinic_in_the_same_words(
    browser: Browser, service: Service
) -> None:
    page = browser.new_page(base_url=service.url)
    page.goto("/phone/")
    found, seen = differing(page, 300, seed=12)
    page.close()
    assert found == []
    # The tables are no use if they never ask the hard things.
    assert min(seen["somewhere to go"], seen["nowhere to go"], seen["an old list"]) > 10 and len(seen) > 10


OLD_CARD = """async () => {
  const { wall } = await import('/phone/files/any/clinics.js');
  return wall(Date.parse('2026-03-02T06:00:00Z'), { zone: 'Africa/Nairobi' }).toISOString();
}"""


def test_a_card_kept_since_before_cards_brought_the_clocks_along_is_read_by_its_zone(
    browser: Browser, service: Service
) -> None:
    page = browser.new_page(base_url=service.url)
    page.goto("/phone/")
    assert page.evaluate(OLD_CARD) == "2026-03-02T09:00:00.000Z"
    page.close()


REPORT = {
    "kind": "bite", "body_site": "hand", "broke_skin": "yes", "bled": "yes", "soap": "yes", "animal": "cat",
    "task": "other", "washed_minutes": "15", "contact": "", "narrative": "",
}  # fmt: skip
# The plain form as a browser sends it, read as text.
SEND_PLAIN = """async (said) => {
  const form = document.querySelector('form#report');
  const body = new FormData(form);
  for (const [name, value] of Object.entries(said)) body.set(name, value);
  const answer = await fetch('/report/', { method: 'POST', body });
  const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
  const first = page.querySelector('ul.clinic-list');
  const words = (list) => [...list].map((one) => one.textContent.trim());
  return {
    status: answer.status,
    clinic: first && first.querySelector('strong').textContent,
    why: first ? words(first.nextElementSibling.children) : words(page.querySelectorAll('.message.warning p')).slice(0, 1),
  };
}"""


def test_the_plain_forms_receipt_and_the_phone_name_one_clinic_in_the_same_words(
    browser: Browser, service: Service
) -> None:
    """Somebody of whom neither knows the record, at a spot neither knows."""
    code = team_card(browser, service, "member")
    context = browser.new_context(viewport=PHONE, base_url=service.url)
    plain = context.new_page()
    plain.goto("/report/")
    receipt = plain.evaluate(SEND_PLAIN, REPORT | {"card_code": code})
    assert receipt["status"] == 200 and receipt["why"]
    page = open_phone(context, code)
    page.get_by_role("button", name="Report without the clock").click()
    answer(page, "bite", "unknown", "hand", "bled", "cat")
    page.get_by_role("button", name="Clinics").click()
    expect(page.locator("ol.clinics li h2").first).to_be_visible()
    if receipt["clinic"]:
        expect(page.locator("ol.clinics li h2").first).to_have_text(f"Go here: {receipt['clinic']}")
        assert page.locator("ol.clinics > li").first.locator("ul > li").all_inner_texts() == receipt["why"]
    else:
        expect(page.get_by_text(receipt["why"][0])).to_be_visible()
    page.get_by_role("button", name="yes", exact=True).click()
    expect(page.get_by_text("immunoglobulin is counted as needed")).to_have_count(0)
    context.close()
