"""A crew that left without something is told to the officers at once, once, and no more once it is voided."""

from __future__ import annotations

import re
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from safety import registry
from safety.emails.build import build_mail
from safety.models import Departure, Notice
from safety.outbox.claims import claim_next
from safety.outbox.states import State
from safety.services.crew_day.departure_voids import departure_void
from safety.services.notices.absences import absence_add
from safety.services.notices.notices import notices_reconcile, still_true
from safety.services.notices.sending import send_one
from staff.models import SiteRole
from tests.factories import make_user
from tests.safety.outbox.test_mail_content import HEALTH
from tests.safety.outing_day.scenes import Day

pytestmark = pytest.mark.django_db


def told() -> list[Notice]:
    return list(Notice.objects.filter(kind="left-without").order_by("pk"))


def without_helmets(day: Day) -> Departure:
    return day.leave(helmets=False, missing_reason="the spare ones are wet")


def test_leaving_with_everything_tells_nobody(day: Day) -> None:
    day.leave()
    notices_reconcile(now=day.now)
    assert not told()


def test_every_officer_is_told_once_at_once_whoever_sweeps(day: Day) -> None:
    make_user("chief", day.team.site, SiteRole.Role.OFFICER)
    without_helmets(day)
    for _sweep in range(2):
        notices_reconcile(now=day.now)
    assert [(row.email, row.state) for row in told()] == [
        ("officer@example.org", "waiting"),
        ("chief@example.org", "waiting"),
    ]
    assert all(
        row.due_at <= day.now and row.outing == day.outing and still_true(row, day.now) for row in told()
    )
    assert registry.find_kind("left-without")


def test_the_mail_carries_reference_time_and_link_and_nothing_else(day: Day) -> None:
    left = without_helmets(day)
    (row,) = told()
    mail = build_mail(row, left.date)
    text = "\n".join(
        [mail["Subject"], *(str(part.get_content()) for part in mail.walk() if not part.is_multipart())]
    )
    assert f"D{left.pk}" in text and f"/outings/{day.outing.pk}/" in text and "09:00" in text
    found = set(re.findall(r"[a-z]+", text.casefold()))
    assert not found & {*HEALTH, "helmets", "spare", "wet", "test", "area"}


def test_a_departure_voided_before_the_mail_left_takes_it_back(day: Day) -> None:
    left = without_helmets(day)
    departure_void(actor=day.head, departure=left, reason="helmets came", now=day.now)
    assert [row.state for row in told()] == [State.WITHDRAWN]
    notices_reconcile(now=day.now)
    assert [row.state for row in told()] == [State.WITHDRAWN]


def test_one_voided_while_a_worker_holds_the_mail_is_not_sent(day: Day) -> None:
    left = without_helmets(day)
    claimed = claim_next(day.now)
    assert claimed is not None and claimed.kind == "left-without"
    departure_void(actor=day.head, departure=left, reason="helmets came", now=day.now)
    assert not send_one(claimed, clock=lambda: day.now)
    claimed.refresh_from_db()
    assert claimed.state == State.WITHDRAWN


def test_a_new_departure_without_something_is_told_anew(day: Day) -> None:
    departure_void(actor=day.head, departure=without_helmets(day), reason="two crews", now=day.now)
    without_helmets(day)
    assert [row.state for row in told()] == [State.WITHDRAWN, State.WAITING]


def test_the_deputy_of_an_absent_officer_is_told(day: Day) -> None:
    today = day.outing.date
    absence_add(
        actor=day.team.officer,
        user=day.team.officer,
        first_day=today,
        last_day=today,
        deputy=day.team.liaison,
        now=day.now,
    )
    without_helmets(day)
    assert [row.email for row in told()] == ["liaison@example.org"]


def test_a_sweep_a_day_later_writes_to_nobody_new(day: Day) -> None:
    without_helmets(day)
    make_user("late", day.team.site, SiteRole.Role.OFFICER)
    notices_reconcile(now=day.now + timedelta(days=1))
    assert [row.email for row in told()] == ["officer@example.org"]


def verified() -> str:
    out = StringIO()
    try:
        call_command("verify_records", stdout=out)
    except CommandError as error:
        out.write(str(error))
    return out.getvalue()


def test_verify_records_agrees_and_finds_what_was_done_past_the_services(day: Day) -> None:
    left = without_helmets(day)
    assert "departure" not in verified() and "left without" not in verified()
    Departure.objects.filter(pk=left.pk).update(
        voided_at=day.now, voided_by=day.team.officer, void_reason="raw"
    )
    assert "nobody left without anything" in verified()
    Departure.everything.filter(pk=left.pk).update(voided_at=None, voided_by=None, void_reason="")
    Notice.objects.all().delete()
    assert f"departure {left.pk}" in verified()
