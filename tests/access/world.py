"""One of everything, all about one member, so that a leak has something to leak."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from knox.models import AuthToken

from safety.emails.seen import seen_token
from safety.models import CrewReturn, Departure, Incident
from safety.services.animal.animal_links import animal_link_make
from safety.services.animal.observation import check_record, observation_begin, outcome_record
from safety.services.case.incident_facts import IncidentReport, WoundReport
from safety.services.case.referrals import referral_make
from safety.services.case.typed_reports import incident_report
from safety.services.case.visits import visit_record
from safety.services.course.course import course_start
from safety.services.course.course_doses import course_dose_record
from safety.services.course.plan import course_plan
from safety.services.notices.absences import absence_add
from safety.services.notices.feed import feed_make
from safety.services.phone.receive import message_receive
from staff.models import Crew, Regimen, Session, SessionPlace, User
from staff.services.campaign.community import community_told_record
from staff.services.campaign.field_plan import area_add
from staff.services.importing.drafts import draft_create
from staff.services.outing.roster import roster_assign
from staff.services.outing.roster_rules import wish_add
from staff.services.record.certificates import certificate_add, certificate_verify
from staff.services.record.holds import hold_place
from staff.services.record.letters import immunocompromised_set, letter_add
from staff.services.record.records import dose_record
from staff.services.record.titres import titre_record
from staff.services.regimen.regimen_drafts import regimen_copy
from staff.services.site.accounts import role_give
from staff.services.site.holidays import holiday_add
from staff.services.site.site_rules import site_rules_change
from tests.documents import picture
from tests.factories import Team, give_doses, make_outing, make_person, make_user
from tests.safety.phone.phones import Phone, message, phone_of
from tests.staff.planning.scenes import make_campaign

# Words that stand in a record or a case, and who may read each: the first ones are of the member's record,
# the last is of a team mate who isn't clear today, so that the board has a reason to show.
_MEMBERS_OWN = frozenset({"member", "officer", "liaison"})
CANARIES = {
    "canary-batch": _MEMBERS_OWN,
    "canary-hold": _MEMBERS_OWN,
    "canary-story": _MEMBERS_OWN,
    "canary-clinician": _MEMBERS_OWN,
    "canary-place": _MEMBERS_OWN,
    "canary-laboratory": _MEMBERS_OWN,
    "canary-letter": _MEMBERS_OWN,
    "canary-keeper": frozenset({"officer", "liaison"}),
    "canary-phone": frozenset({"officer"}),
    "canary-elder": frozenset({"officer", "liaison"}),
    "canary-reason": frozenset({"officer", "liaison"}),
}
# Of the community and not of anybody's record: a look at it leaves no row.
OF_NO_RECORD = frozenset({"canary-elder"})


@dataclass
class World:
    team: Team
    viewers: dict[str, User | None]
    ids: dict[str, dict[str, Any]]
    # What was answered to a route, a method and a viewer; see tests/test_access.py.
    seen: dict[tuple[str, str, str], Any] = field(default_factory=dict)


def make_world(team: Team, now: datetime) -> World:
    """Everything there is about the member; the words that must not leak are in it."""
    key, _secret = AuthToken.objects.create(user=team.member)
    ids = _record(team, now) | _case(team, now)
    ids |= (
        _planned(team, now)
        | _campaign(team, now)
        | {
            "person": {"pk": team.person.pk},
            "held message": _held(phone_of(team.person, team.officer, now)),
            "message of nobody": _held(Phone("", now)),
            "regimen": {"code": "prep-im-0-7-21"},
            "version": {"code": "prep-im-0-7", "version": 1},
            "draft version": _draft(team, now),
            "approval": {"pk": team.site.regimen_approvals.earliest("pk").pk},
            "calendar link": {"code": feed_make(user=team.liaison, now=now).code},
            "role offer": _role_offer(team, now),
            "key": {"token_key": key.token_key},
            "clinic": {"pk": team.clinic.pk},
            "site": {"code": team.site.code},
            "plan subject": {"code": team.site.code, "what": "dose"},
            "rules change": _rules_change(team, now),
            "holiday": _holiday(team, now),
            "absence": _absence(team, now),
            "phone file": {"version": "older", "name": "app.js"},
        }
    )
    return World(team, _viewers(team, now), ids)


def _rules_change(team: Team, now: datetime) -> dict[str, Any]:
    change = site_rules_change(
        actor=team.officer, rules=team.site.rules, changes={"notice_hour": 8}, reason="letter 2", now=now
    )
    return {"code": team.site.code, "pk": change.pk}


def _role_offer(team: Team, now: datetime) -> dict[str, Any]:
    made = role_give(actor=None, account=team.liaison, site=team.site, role="lead", now=now)
    return {"pk": made.pk}


def _holiday(team: Team, now: datetime) -> dict[str, Any]:
    day = team.site.local_date(now) + timedelta(days=3)
    made = holiday_add(actor=team.officer, site=team.site, day=day, name="Test Day", now=now)
    return {"code": team.site.code, "pk": made.pk}


def _absence(team: Team, now: datetime) -> dict[str, Any]:
    """The liaison away later, with the officer standing in."""
    first = team.site.local_date(now) + timedelta(days=40)
    made = absence_add(
        actor=team.liaison,
        user=team.liaison,
        first_day=first,
        last_day=first,
        deputy=team.officer,
        now=now,
    )
    return {"pk": made.pk}


def _draft(team: Team, now: datetime) -> dict[str, Any]:
    """A version of a regimen that the member's officer is drafting."""
    listed = Regimen.objects.get(code="prep-im-0-7", version=1)
    made = regimen_copy(actor=team.officer, regimen=listed, code="prep-im-0-7-draft", now=now)
    return {"code": made.code, "version": made.version}


def _viewers(team: Team, now: datetime) -> dict[str, User | None]:
    mate = make_person(team.site, team.officer, now, number="8", name="Test Colleague")
    mate.user = make_user("colleague")
    mate.save()
    return {
        "nobody": None,
        "colleague": mate.user,
        "root": User.objects.create(username="root", is_superuser=True, is_staff=True),
        **{name: getattr(team, name) for name in ("member", "lead", "liaison", "officer", "stranger")},
    }


def _record(team: Team, now: datetime) -> dict[str, dict[str, Any]]:
    """Three doses, and a hold that begins later, so that the member is clear meanwhile."""
    today = team.site.local_date(now)
    give_doses(team.person, team.officer, now, 30, 23)
    dose = dose_record(
        actor=team.officer,
        person=team.person,
        given_on=today - timedelta(days=9),
        now=now,
        batch="canary-batch",
    )
    hold = hold_place(
        actor=team.officer,
        person=team.person,
        starts_on=today + timedelta(days=30),
        reason="canary-hold",
        now=now,
    )
    held = make_person(team.site, team.officer, now, number="9", name="Test Held")
    hold_place(actor=team.officer, person=held, starts_on=today, reason="canary-reason", now=now)
    return {"dose": {"pk": dose.pk}, "hold": {"pk": hold.pk}} | _documents(team, now)


def _documents(team: Team, now: datetime) -> dict[str, dict[str, Any]]:
    """A titre, a certificate and the checked clearance letter without which the member couldn't go out."""
    today = team.site.local_date(now)
    titre = titre_record(
        actor=team.officer,
        person=team.person,
        taken_on=today,
        iu_per_ml=Decimal("0.71"),
        laboratory="canary-laboratory",
        now=now,
    )
    certificate = certificate_add(
        actor=team.officer, person=team.person, kind="certificate", content=picture("canary"), now=now
    )
    letter = letter_add(
        actor=team.officer,
        person=team.person,
        clinician="canary-letter",
        signed_on=today,
        valid_until=today + timedelta(days=60),
        content=picture("letter"),
        now=now,
    )
    certificate_verify(actor=team.liaison, certificate=letter.document, doses=[], now=now)
    immunocompromised_set(
        actor=team.officer, person=team.person, immunocompromised=True, reason="letter 3", now=now
    )
    team.person.refresh_from_db()
    return {
        "titre": {"pk": titre.pk},
        "certificate": {"key": certificate.key},
        "letter": {"pk": letter.pk},
    }


def _planned(team: Team, now: datetime) -> dict[str, dict[str, Any]]:
    """An outing with the member on it, and a list on its way in."""
    outing, crew = make_outing(team.site, team.officer, now)
    assignment = roster_assign(
        actor=team.officer, outing=outing, crew=crew, person=team.person, role="catcher", now=now
    )
    _left_and_back(team, crew, now)
    draft = draft_create(
        actor=team.officer,
        site=team.site,
        file_name="team.csv",
        content=b"number,name,dose 1\n10,Test Newcomer,2026-01-05\n",
        now=now,
    )
    told = community_told_record(
        actor=team.officer,
        outing=outing,
        told_on=team.site.local_date(now),
        who="canary-elder",
        how="loudspeaker",
        now=now,
    )
    return {
        "community notice": {"pk": told.pk},
        "outing": {"pk": outing.pk},
        "crew": {"pk": outing.pk, "crew_pk": crew.pk},
        "assignment": {"pk": outing.pk, "assignment_pk": assignment.pk},
        "draft": {"key": draft.key},
        "roster day": {"pk": team.person.pk, "day": outing.date.isoformat()},
        "wish": _wish(team, now),
    }


def _wish(team: Team, now: datetime) -> dict[str, Any]:
    day = team.site.local_date(now) + timedelta(days=20)
    made = wish_add(actor=team.member, person=team.person, kind="cannot", first_on=day, last_on=None, now=now)
    return {"pk": team.person.pk, "wish_pk": made.pk}


def _left_and_back(team: Team, crew: Crew, now: datetime) -> None:
    """The crew's day as rows: it lies ahead, and so no service would take it yet."""
    by = {"crew": crew, "recorded_by": team.lead, "recorded_at": now}
    left = Departure.objects.create(
        date=crew.outing.date,
        helmets=False,
        clothing=True,
        kit=True,
        briefing=True,
        clinic=team.clinic,
        clinic_open=True,
        vaccine="yes",
        immunoglobulin="yes",
        crew_whole=True,
        missing_reason="the spare ones are wet",
        **by,
    )
    left.people.create(person=team.person, role="catcher", present=True)
    CrewReturn.objects.create(
        hours=5,
        people=1,
        dogs=40,
        incidents=0,
        near_misses=0,
        none_said=True,
        sharps_disposed=True,
        sharps_note="clinic",
        **by,
    )


def _campaign(team: Team, now: datetime) -> dict[str, dict[str, Any]]:
    """A campaign with the member on its list, and today's session that expects them."""
    campaign = make_campaign(team, now, days_ahead=60, people=[team.person])
    session = Session.objects.create(
        campaign=campaign,
        site=team.site,
        held_on=team.site.local_date(now),
        place="Test Clinic",
        planned_by=team.officer,
        planned_at=now,
        changed_at=now,
    )
    SessionPlace.objects.create(session=session, person=team.person, number=1)
    area = area_add(
        actor=team.officer,
        campaign=campaign,
        name="Test Quarter",
        first_on=campaign.starts_on,
        method="house-to-house",
        now=now,
    )
    return {
        "campaign": {"pk": campaign.pk},
        "campaign area": {"pk": campaign.pk, "area_pk": area.pk},
        "session": {"pk": session.pk},
    }


def _case(team: Team, now: datetime) -> dict[str, dict[str, Any]]:
    """A bite the lead reported, washed, seen at the clinic, with a course, its first dose and its notices."""
    incident = _bite(team, now)
    today = team.site.local_date(now)
    referral = referral_make(actor=team.officer, incident=incident, clinic=team.clinic, now=now)
    visit = visit_record(
        actor=team.liaison,
        incident=incident,
        clinic=team.clinic,
        visited_on=today,
        decision="course",
        clinician="canary-clinician",
        now=now,
    )
    # The member is immunocompromised by the record; the clinic's paper says this regimen.
    course = course_start(
        actor=team.liaison,
        incident=incident,
        regimen=team.post_exposure,
        starts_on=today,
        confirmed=True,
        now=now,
    )
    dose = course_dose_record(
        actor=team.liaison, course=course, given_on=today, place="canary-place", now=now
    )
    course_plan(course_id=course.pk, now=now)
    spell, notice = incident.wash_spells.get(), course.notices.first()
    assert notice is not None
    ids: dict[str, dict[str, Any]] = {
        "case": {"reference": incident.reference},
        "spell": {"reference": incident.reference, "spell": spell.pk},
        "visit": {"reference": incident.reference, "visit_id": visit.pk},
        "referral": {"reference": incident.reference, "referral_id": referral.pk},
        "incident": {"pk": incident.pk},
        "course": {"pk": course.pk},
        "course dose": {"pk": course.pk, "dose_id": dose.pk},
        "notice": {"pk": notice.pk},
        "seen link": {"token": seen_token(course.notices.filter(kind="day-of").earliest("pk"))},
    }
    return ids | _animal(team, incident, now)


def _animal(team: Team, incident: Incident, now: datetime) -> dict[str, dict[str, Any]]:
    """The dog of that bite under watch, with a check, signs and the link of who keeps it."""
    watched = observation_begin(
        actor=team.liaison, incident=incident, described="brown dog", keeper="canary-keeper", now=now
    )
    today = team.site.local_date(now)
    check = check_record(observation=watched, day=today, seen="ill", actor=team.liaison, now=now)
    outcome = outcome_record(actor=team.liaison, observation=watched, outcome="ill", known_on=today, now=now)
    made = animal_link_make(actor=team.liaison, observation=watched, now=now)
    return {
        "animal check": {"reference": incident.reference, "check_id": check.pk},
        "animal outcome": {"reference": incident.reference, "outcome_id": outcome.pk},
        "animal link": {"code": made.code},
    }


def _held(phone: Phone) -> dict[str, Any]:
    """A report about somebody the phone's holder doesn't lead, or without a link."""
    sent = message(phone.text("report", phone.bite(person=0), uuid.uuid4()))
    message_receive(key=sent.key, now=phone.now, **sent.body)
    return {"key": sent.key}


def _bite(team: Team, now: datetime) -> Incident:
    report = IncidentReport(
        kind="bite",
        animal="dog-owned",
        happened_at=now - timedelta(hours=1),
        wounds=(WoundReport(contact="bitten", broke_skin="yes", bled="yes"),),
        narrative="canary-story",
        washed_minutes=15,
    )
    made = incident_report(actor=team.lead, person=team.person, key=uuid.uuid4(), report=report, now=now)
    return made.incident
