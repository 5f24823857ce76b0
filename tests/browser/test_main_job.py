"""The whole job in a real browser: import, board, refused and cleared assignments, a bite, the clinic, the reminder."""

from __future__ import annotations

import json
import sqlite3
import time
import urllib.error
import urllib.request
from collections.abc import Callable
from contextlib import closing
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import psycopg
import pytest
from playwright.sync_api import Browser, Page, expect

from safety.demo.accounts import PASSWORD
from tests import needs
from tests.browser.conftest import PHONE, WIDE, Service, signed_in

pytestmark = [pytest.mark.browser, pytest.mark.slow, needs.chromium(), pytest.mark.timeout(240)]

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
WITHIN_SECONDS = 60.0


def today(zone: str = "Africa/Nairobi") -> date:
    return datetime.now(ZoneInfo(zone)).date()


def wait_for(what: Callable[[], object], seconds: float = WITHIN_SECONDS) -> float:
    """Seconds until `what` was true; fails after `seconds`."""
    began = time.monotonic()
    while not what():
        assert time.monotonic() - began < seconds, f"not within {seconds} s"
        time.sleep(1)
    return time.monotonic() - began


def api(service: Service, key: str, path: str, body: dict[str, object]) -> tuple[int, dict[str, object]]:
    request = urllib.request.Request(
        service.url + path,
        data=json.dumps(body).encode(),
        headers={"Authorization": f"Token {key}", "Content-Type": "application/json"},
    )
    try:
        with urllib.request.urlopen(request, timeout=20) as answer:
            return answer.status, json.load(answer)
    except urllib.error.HTTPError as error:
        return error.code, json.load(error)


def raw_sql(service: Service, statement: str) -> None:
    if service.database_url:
        with psycopg.connect(service.database_url) as connection:
            connection.execute(statement)  # type: ignore[arg-type]
    else:
        with closing(sqlite3.connect(service.data_dir / "three-fifteen.sqlite3")) as connection, connection:
            connection.execute(statement)


def test_the_officer_imports_a_list_and_rosters_only_cleared_people(
    browser: Browser, service: Service
) -> None:
    page = signed_in(browser, service, "officer", WIDE)
    import_sample(page)
    show_board(page)
    expect(page.locator("tbody tr")).to_have_count(217)  # 18 + 200, one of whom has left the team

    outing = plan_outing(page)
    uncleared = uncleared_person(page)
    name, number = imported_and_clear(page)
    page.goto(f"{outing}?role=catcher")
    offered = page.locator("select[name=person] option")
    assert uncleared not in [option.get_attribute("value") for option in offered.all()]

    check_every_door(page, service, outing, uncleared)

    page.select_option("select[name=person]", label=f"{name} ({number})")
    page.get_by_role("button", name="Put on as").click()
    expect(page.locator(".roster")).to_contain_text(name)


def import_sample(page: Page) -> None:
    page.goto("/people/import/")
    page.select_option("[name=site]", label="Quennamoor Heights")
    page.set_input_files("[name=file]", FIXTURES / "staff_sample.csv")
    page.get_by_role("button", name="Read the list").click()
    expect(page.locator("main")).to_contain_text("problems")
    page.locator("[name=date_format][value=day-month-year]").check()
    page.locator("[name=evidence][value=certificate-seen]").check()
    page.get_by_role("button", name="Check again").click()
    page.get_by_role("button", name="Import 200 people").click()
    expect(page.locator("main")).to_contain_text("550", timeout=WITHIN_SECONDS * 1000)
    expect(page.locator("main")).to_contain_text("180 briefings added")


def outing_day() -> str:
    return (today("Asia/Kathmandu") + timedelta(days=2)).isoformat()


def plan_outing(page: Page) -> str:
    page.goto("/outings/add/")
    page.select_option("[name=site]", label="Quennamoor Heights")
    page.fill("[name=date]", outing_day())
    page.fill("[name=area]", "Test Terrace")
    page.fill("[name=dogs_expected]", "80")
    page.locator("main form button[type=submit]").click()
    expect(page.locator("h1")).to_contain_text("Test Terrace")
    return page.url.split("?")[0]


def show_board(page: Page, on: str = "", **choices: str) -> None:
    page.goto("/readiness/")
    if on:
        page.fill("[name=on]", on)
    page.select_option("[name=site]", label="Quennamoor Heights")
    for name, value in choices.items():
        page.select_option(f"[name={name}]", value=value)
    page.get_by_role("button", name="Show").click()
    expect(page.locator("h1")).to_contain_text("Quennamoor Heights")


def uncleared_person(page: Page) -> str:
    show_board(page, role="catcher", state="not-clear")
    link = page.locator("tbody a[href*='/people/']").first.get_attribute("href") or ""
    return link.strip("/").split("/")[-1]


def imported_and_clear(page: Page) -> tuple[str, str]:
    """Name and number of a catcher of the list, who has the doses and the briefing the site asks for on the outing's day."""
    show_board(page, on=outing_day(), role="catcher", state="clear")
    rows = page.locator("tbody tr", has_text="HS-")
    assert rows.count() > 10
    person = rows.first.locator("th")
    name, number = (person.locator(part).text_content() or "" for part in ("a", ".quiet"))
    return name.strip(), number.strip()


def check_every_door(page: Page, service: Service, outing: str, person: str) -> None:
    """Page, API and raw SQL each refuse; the ORM's and the admin's doors have tests of their own."""
    crew = page.locator("[name=crew] option:not([value=''])").first.get_attribute("value") or ""
    token = page.locator("form[action*='/assign/'] [name=csrfmiddlewaretoken]").input_value()
    answer = page.request.post(
        f"{outing}assign/",
        form={"csrfmiddlewaretoken": token, "crew": crew, "person": person, "role": "catcher"},
        headers={"Referer": outing},
    )
    assert answer.status == 409
    assert "clear" in answer.text()

    page.goto("/account/")
    page.locator("form[action*=keys] [name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Make a key").click()
    key = (page.locator(".key").text_content() or "").strip()
    number = outing.strip("/").split("/")[-1]
    status, body = api(
        service,
        key,
        f"/api/v1/outings/{number}/assignments/",
        {"crew": int(crew), "person": int(person), "role": "catcher"},
    )
    assert (status, body["code"]) == (409, "not-cleared")

    statement = (
        "INSERT INTO staff_assignment (outing_id, crew_id, person_id, role, clearance_id, assigned_by_id, assigned_at) "
        f"SELECT {int(number)}, {int(crew)}, {int(person)}, 'catcher', MIN(id), 1, CURRENT_TIMESTAMP FROM staff_clearance"
    )
    with pytest.raises((sqlite3.IntegrityError, psycopg.errors.CheckViolation), match="not-cleared"):
        raw_sql(service, statement)
    page.goto(f"{outing}?role=catcher")


def test_a_bite_is_reported_from_a_phone_and_the_clinic_is_reminded(
    browser: Browser, service: Service
) -> None:
    reference = report_bite(signed_in(browser, service, "member", PHONE))
    page = signed_in(browser, service, "liaison", WIDE)
    record_course(page, reference)
    took = wait_for(lambda: planned_dates(page, reference))
    print(f"planned doses stood after {took:.1f} s")
    bitten = today() - timedelta(days=3)
    assert planned_dates(page, reference) == [bitten + timedelta(days=day) for day in (0, 3, 7, 14, 28)]
    took = wait_for(lambda: reminded(page, service, reference))
    print(f"the reminder had left after {took:.1f} s")


def report_bite(page: Page) -> str:
    """The member bitten three days ago, with ten minutes of washing, in a 360-pixel window."""
    page.goto("/report/")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    page.locator("[name=kind][value=bite]").check()
    page.fill("[name=day]", (today() - timedelta(days=3)).isoformat())
    page.fill("[name=clock]", "08:15")
    page.select_option("[name=body_site]", value="hand")
    page.locator("[name=broke_skin][value=yes]").check()
    page.locator("[name=bled][value=yes]").check()
    page.fill("[name=washed_minutes]", "10")
    page.get_by_role("button", name="Send the report").click()
    page.wait_for_url("**/cases/**")
    expect(page.locator("main")).to_contain_text("clinic")
    return page.url.strip("/").split("/")[-1]


def record_course(page: Page, reference: str) -> None:
    bitten = (today() - timedelta(days=3)).isoformat()
    page.goto(f"/cases/{reference}/")
    expect(page.locator("main")).to_contain_text("5:00")
    page.goto(f"/cases/{reference}/visit/")
    page.select_option("[name=clinic]", index=1)
    page.fill("[name=visited_on]", bitten)
    page.locator("[name=decision][value=course]").check()
    page.locator("main form button[type=submit]").click()
    page.goto(f"/cases/{reference}/course/")
    page.select_option("[name=regimen]", label=option_with(page, "pep-im-0-3-7-14-28"))
    page.fill("[name=starts_on]", bitten)
    page.locator("main form button[type=submit]").click()
    # The record says immunised and the table has this regimen for others: the clinic's paper says so.
    page.locator("[name=confirmed]").check()
    page.locator("main form button[type=submit]").click()
    page.wait_for_url(f"**/cases/{reference}/**")
    page.locator("a[href*='/courses/'][href$='/doses/']").first.click()
    page.fill("[name=given_on]", bitten)
    page.locator("main form button[type=submit]").click()
    page.wait_for_url(f"**/cases/{reference}/**")


def option_with(page: Page, text: str) -> str:
    return next(
        words
        for option in page.locator("[name=regimen] option").all()
        if text in (words := option.text_content() or "")
    )


def planned_dates(page: Page, reference: str) -> list[date]:
    page.goto(f"/cases/{reference}/")
    cells = page.locator("td[data-label=Due] time").all()
    return [date.fromisoformat(cell.get_attribute("datetime") or "") for cell in cells]


def reminded(page: Page, service: Service, reference: str) -> bool:
    """The liaison's mail about the dose due today: in the real SMTP sink, or on the mailbox page."""
    if service.sink:
        return any(
            reference in str(mail["Subject"]) and "liaison" in str(mail["To"]) for mail in service.sink.mails
        )
    page.goto("/mailbox/")
    return reference in (page.locator("main").text_content() or "")
