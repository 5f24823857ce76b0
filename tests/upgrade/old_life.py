"""What is lived through in a database of the old commit before it is upgraded. Run inside the checkout of that commit.

Its modules had other names, so they are loaded by them; nothing here runs in the checkout this file lies in.
"""

from __future__ import annotations

import json
import uuid
from datetime import datetime, timedelta
from importlib import import_module
from typing import Any

from django.apps import apps
from django.utils import timezone

roster = import_module("staff.services.roster")
records = import_module("staff.services.records")
departures = import_module("safety.services.departures")
crew_roll = import_module("safety.services.crew_roll")
washing = import_module("safety.services.washing")
case = import_module("safety.services.case")
clinics = import_module("safety.services.clinics")
bounces = import_module("safety.services.bounces")
receive = import_module("safety.services.phone.receive")
links = import_module("safety.services.phone.links")
keys = import_module("safety.services.phone.keys")
digests = import_module("safety.services.digests")
sending = import_module("safety.services.sending")
readiness = import_module("staff.selectors.readiness")
phones = import_module("tests.safety.phone.phones")
reports = import_module("tests.safety.outbox.reports")


def rows(name: str, **facts: Any) -> Any:
    return apps.get_model(name)._default_manager.filter(**facts).order_by("pk")


def officer_of(site: Any) -> Any:
    return rows("staff.User", site_roles__site=site, site_roles__role="officer", is_active=True).first()


def send_what_is_due() -> None:
    """Until nothing is left: one tick sends a bounded number."""
    while sending.tick(clock=timezone.now):
        pass


def rosters_change(now: datetime) -> None:
    """Somebody is taken off, an outing is moved, another is cancelled; each is told by mail."""
    today = timezone.localdate(now)
    ahead = list(
        rows("staff.Outing", date__gt=today, cancelled_at__isnull=True, assignments__gt=0).distinct()
    )
    officer = officer_of(ahead[0].site)
    for assignment in list(ahead[0].assignments.all()[:2]):
        roster.roster_withdraw(
            actor=officer, assignment=assignment, reason="swapped with another day", now=now
        )
    for moved, days in ((ahead[1], 60), (ahead[2], 61)):
        to = moved.date + timedelta(days)
        roster.outing_move(actor=officer_of(moved.site), outing=moved, date=to, now=now, reason="road closed")
    roster.outing_cancel(actor=officer_of(ahead[3].site), outing=ahead[3], reason="rain", now=now)


def a_crew_leaves_without(now: datetime) -> None:
    """Today, without helmets and kit; the officers are told. A second departure is taken back."""
    site = rows("staff.Outing", cancelled_at__isnull=True).first().site
    officer, today = officer_of(site), site.local_date(now)
    outing = roster.outing_create(
        actor=officer,
        site_id=site.pk,
        date=today,
        area="Old quarter",
        method="house-to-house",
        now=now,
        crews=2,
    )
    free = [row.person for row in readiness.readiness(site.people.all(), today, [site]) if row.clear]
    free = [one for one in free if not rows("staff.Assignment", person=one, outing__date=today).exists()]
    for crew, person in zip(outing.crews.order_by("pk"), free, strict=False):
        roster.roster_assign(
            actor=officer,
            outing=outing,
            crew=crew,
            person=person,
            role=person.crew_roles.first().role,
            now=now,
        )
        left = departures.departure_record(
            actor=officer,
            crew=crew,
            roll=crew_roll.Roll(here=frozenset({person.pk})),
            answers=departures.Answers(
                helmets=False,
                clothing=True,
                kit=False,
                briefing=True,
                missing_reason="the box was at the clinic",
            ),
            now=now,
        )
    departures.departure_void(actor=officer, departure=left, reason="this crew stayed", now=now)


def entries_are_voided(now: datetime) -> None:
    for spell in rows("safety.WashSpell", stopped_at__isnull=False, voided_at__isnull=True)[:2]:
        officer = officer_of(spell.incident.site)
        washing.wash_void(actor=officer, spell=spell, reason="another person's", now=now)
    for referral in rows("safety.Referral", incident__closed_at__isnull=True)[:1]:
        case.referral_void(
            actor=officer_of(referral.incident.site), referral=referral, reason="another case's", now=now
        )
    for dose in rows("staff.Dose", purpose="pre-exposure", voided_at__isnull=True, course_key__isnull=True)[
        :3
    ]:
        records.dose_void(
            actor=officer_of(dose.person.site), dose=dose, reason="typed on the wrong line", now=now
        )


def counts_are_held(now: datetime) -> None:
    """Counts of dogs as the phones of before sent them: about nothing, and therefore unreadable to the old service."""
    # What has lain for a minute is read again by the next tick.
    now -= timedelta(minutes=2)
    person = rows("staff.Person", crew_roles__isnull=False).first()
    code = links.link_make(actor=officer_of(person.site), person=person, now=now).code
    keys.seal_keys_rotate(now=now)
    key, current = uuid.uuid4(), keys.public_keys(now=now)[0]
    text = {
        "v": 1,
        "link": code,
        "kind": "handled",
        "about": None,
        "made_at": now.isoformat(),
        "body": {"date": person.site.local_date(now).isoformat(), "outing": None, "counts": {"injecting": 7}},
    }
    sealed = phones.seal(current.public, key, json.dumps(text).encode())
    receive.message_receive(key=key, key_id=current.key_id, sealed=sealed, now=now)


def a_clinic_runs_out(now: datetime) -> None:
    clinic = rows("safety.Clinic", active=True, vaccine="yes").first()
    clinics.clinic_confirm(
        actor=officer_of(clinic.site), clinic=clinic, vaccine="no", immunoglobulin="no", now=now
    )


def a_mail_is_refused(now: datetime) -> None:
    sent = rows("safety.Notice", state="sent", digest__isnull=True).exclude(kind="digest").last()
    bounces.bounce_take(content=reports.report_of(sent), now=now)


def live() -> None:
    # The demo writes to nobody of four things in one hour, so here fewer go into one mail.
    most, digests.MOST_ALONE = digests.MOST_ALONE, 0
    send_what_is_due()
    digests.MOST_ALONE = most
    now = timezone.now()
    for act in (
        rosters_change,
        a_crew_leaves_without,
        entries_are_voided,
        counts_are_held,
        a_clinic_runs_out,
    ):
        act(now)
        print(f"lived: {act.__name__}")
    send_what_is_due()
    a_mail_is_refused(timezone.now())
    send_what_is_due()
    need_it_all()


def need_it_all() -> None:
    """A life that left nothing to upgrade would prove nothing."""
    kinds = set(rows("safety.Notice", state="sent").values_list("kind", flat=True))
    told = {
        "digest",
        "roster-off",
        "outing-moved",
        "outing-off",
        "left-without",
        "clinic-lacks",
        "undelivered",
        "held-report",
    }
    assert kinds >= told, told - kinds
    assert rows("safety.Notice", state="failed").exists()
    held = rows("safety.PhoneMessage", state="held", reason="unreadable")
    assert held.count() == 1
    for name in ("safety.WashSpell", "safety.Departure", "staff.Dose"):
        assert apps.get_model(name)._base_manager.filter(voided_at__isnull=False).exists(), name


live()
