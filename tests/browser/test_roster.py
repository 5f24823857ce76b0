"""An officer plans a campaign of two weeks for four crews, by the proposal and by hand with the keyboard alone.

Who is clear on which date is asked of the API, apart from the page: no roster may hold anybody else. A crew that
isn't complete must say on the grid what it still needs.
"""

from __future__ import annotations

import json
import urllib.request
from collections import Counter
from datetime import date, timedelta
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from tests import needs
from tests.browser.conftest import WIDE, Service, signed_in
from tests.browser.keyboard import press, skip_to_content, tab_to, write
from tests.browser.test_main_job import PASSWORD, today

pytestmark = [
    pytest.mark.browser, pytest.mark.slow, needs.chromium(), needs.once(), pytest.mark.timeout(600)
]  # fmt: skip

AREAS = ("Basalt Steps", "Fern Hollow", "Osier Beds", "Tanner's Row")
# House to house: common practice, no source; the shipped shape.
NEEDED = {"catcher": 1, "vaccinator": 1, "recorder": 1}
# Days of work of each area; with days from Monday to Friday they reach into the second week.
DAYS = 6


def test_two_weeks_for_four_crews_are_planned_by_proposal_and_by_keyboard(
    browser: Browser, service: Service
) -> None:
    page = signed_in(browser, service, "officer", WIDE)
    key = make_key(page)
    first = next_monday(today("Africa/Nairobi") + timedelta(days=21))
    plan_outings(page, first)
    show_roster(page, first)
    press(page, "Propose the open places")
    stated = gaps_told(page)
    press(page, "Fill these places")
    expect(page.locator("main [role=status]")).to_contain_text("filled as proposed")
    proposed = check_rosters(page, service, key, first)
    assert proposed >= 3 * DAYS
    assert stated == open_places(page), "the proposal names other gaps than the grid"

    press(page, "Undo")
    expect(page.locator("main [role=status]")).to_contain_text("Undone")
    assert check_rosters(page, service, key, first) == 0
    by_hand(page)
    assert check_rosters(page, service, key, first) >= proposed * 0.8
    page.context.close()


def next_monday(day: date) -> date:
    return day + timedelta(days=7 - day.weekday())


def make_key(page: Page) -> str:
    page.goto("/account/")
    page.locator("form[action*=keys] [name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Make a key").click()
    return (page.locator(".key").text_content() or "").strip()


def plan_outings(page: Page, first: date) -> None:
    press(page, "Campaigns")
    press(page, "Dry season round")
    press(page, "Field work")
    for area in AREAS:
        press(page, "Add an area")
        write(page, "name", area)
        # As the browser's own field takes a date in its English of the United States.
        write(page, "first_on", first.strftime("%m%d%Y"))
        write(page, "days", str(DAYS))
        write(page, "adults", "120")
        press(page, "Add the area")
    press(page, "Show the days")
    press(page, "Plan these outings")
    expect(page.locator("main [role=status]")).to_contain_text("outings are planned")


def show_roster(page: Page, first: date) -> None:
    press(page, "Outings")
    press(page, "Roster")
    write(page, "first", first.strftime("%m%d%Y"))
    press(page, "Show these days")
    expect(page.locator(".roster-grid thead th").nth(1)).to_contain_text(str(first.day))


def open_places(page: Page) -> Counter[str]:
    """Crew and role, with how many are still needed, by the grid."""
    chips = page.locator(".roster-grid [data-seat]").evaluate_all(
        "chips => chips.map(chip => [chip.dataset.seat, chip.innerText])"
    )
    return Counter({seat: _number(words) for seat, words in chips})


def gaps_told(page: Page) -> Counter[str]:
    """The same by the proposal's own words about what stays empty; each of them must say why."""
    cards = page.locator("article[data-seat]")
    for card in cards.all():
        assert card.locator("li").count() or "Nobody of the team" in card.inner_text()
    told = cards.evaluate_all("all => all.map(one => [one.dataset.seat, one.dataset.number])")
    return Counter({seat: int(number) for seat, number in told})


def _number(words: str) -> int:
    return int(words.split("×")[0]) if "×" in words else 1


def check_rosters(page: Page, service: Service, key: str, first: date) -> int:
    """Nobody uncleared, nobody twice a day, every crew complete or short in as many words. Returns how many are on."""
    last = first + timedelta(days=13)
    outings = asked(service, key, f"/api/v1/outings/?since={first}&until={last}&site=lantern-valley")
    missing, on = open_places(page), 0
    for day in sorted({outing["date"] for outing in outings}):
        people = asked(service, key, f"/api/v1/clearance/?on={day}&site=lantern-valley")
        clear = {row["person"] for row in people if row["cleared"]}
        rostered = [
            row["person"] for outing in outings if outing["date"] == day
            for crew in outing["crews"] for row in crew["assignments"]
        ]  # fmt: skip
        assert set(rostered) <= clear, day
        assert len(rostered) == len(set(rostered)), day
        on += len(rostered)
    mine = [outing for outing in outings if outing["area"] in AREAS]
    assert len(mine) == len(AREAS) * DAYS
    for crew in (crew for outing in mine for crew in outing["crews"]):
        there = Counter(row["role"] for row in crew["assignments"])
        for role, number in NEEDED.items():
            assert missing[f"{crew['id']}:{role}"] == max(0, number - there[role])
    return on


def asked(service: Service, key: str, path: str) -> Any:
    request = urllib.request.Request(service.url + path, headers={"Authorization": f"Token {key}"})
    with urllib.request.urlopen(request, timeout=60) as answer:
        return json.load(answer)


def by_hand(page: Page) -> None:
    """Fill every open place that a person is free for, from the grid by arrow keys and from the day's page by Tab."""
    skipped: set[str] = set()
    while True:
        chips = page.locator(".roster-grid [data-seat]").evaluate_all(
            "chips => chips.map(chip => ({...chip.dataset}))"
        )
        chip = next((chip for chip in chips if chip["seat"] not in skipped), None)
        if chip is None:
            return
        free = page.locator(
            f".roster-grid tr[data-roles~={chip['role']}] td.cell-free a[data-day='{chip['day']}']"
        )
        if not free.count():
            skipped.add(chip["seat"])
            continue
        # Whoever has the fewest days so far.
        cell = free.evaluate_all(
            "all => all.sort((a, b) => a.closest('tr').querySelectorAll('.cell-on').length"
            " - b.closest('tr').querySelectorAll('.cell-on').length)[0].dataset.cell"
        )
        go_to(page, cell)
        with page.expect_navigation():
            page.keyboard.press("Enter")
        take_seat(page, chip["seat"])
        expect(page.locator("main [role=status]")).to_contain_text("is on the roster")


def go_to(page: Page, cell: str) -> None:
    """Reach a day of the grid: by Tab into it, then by arrow keys."""
    if not page.evaluate("!!document.activeElement.dataset.cell"):
        skip_to_content(page)
        for _stop in range(200):
            page.keyboard.press("Tab")
            if page.evaluate("!!document.activeElement.dataset.cell"):
                break
    row, column = map(int, cell.split(":"))
    for _turn in range(4):
        at_row, at_column = map(int, str(page.evaluate("document.activeElement.dataset.cell")).split(":"))
        if (at_row, at_column) == (row, column):
            return
        strokes = ["ArrowDown" if at_row < row else "ArrowUp"] * abs(at_row - row)
        strokes += ["ArrowRight" if at_column < column else "ArrowLeft"] * abs(at_column - column)
        for stroke in strokes:
            page.keyboard.press(stroke)
    raise AssertionError(f"arrow keys never reach {cell}")


def take_seat(page: Page, seat: str) -> None:
    skip_to_content(page)
    tab_to(page, "seat")
    page.keyboard.press("Space")
    for _choice in range(60):
        if page.evaluate("document.activeElement.value") == seat:
            break
        page.keyboard.press("ArrowDown")
    press(page, "Put on the roster")
