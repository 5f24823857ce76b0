"""A small invented programme for tests.

People, doses, outings and the regimen table come through the services. Sites, rules, accounts, roles, approvals,
clinics and the link from a person to an account are plain rows: nothing is audited or recomputed for them.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

from safety.models import Clinic
from staff.models import (
    Crew,
    CrewRole,
    Dose,
    Outing,
    Person,
    Purpose,
    Regimen,
    RegimenApproval,
    Site,
    SiteRole,
    SiteRules,
    User,
)
from staff.services.outing.outings import outing_create
from staff.services.record.people import person_create
from staff.services.record.records import dose_record
from staff.services.regimen.regimens import regimens_load

REGIMENS = Path(__file__).resolve().parent.parent / "fixtures" / "regimens.json"
PRE_EXPOSURE = "prep-im-0-7-21"
POST_EXPOSURE = "pep-im-0-3-7-14-28"


@dataclass
class Team:
    """`officer`, `liaison`, `lead` and `member` belong to `site`; `stranger` is the officer of `other_site`."""

    site: Site
    other_site: Site
    officer: User
    liaison: User
    lead: User
    member: User
    stranger: User
    person: Person
    clinic: Clinic
    post_exposure: Regimen


def make_user(username: str, site: Site | None = None, role: str | None = None) -> User:
    user = User(username=username, email=f"{username}@example.org", first_name=username.title())
    user.set_unusable_password()
    user.save()
    if site and role:
        SiteRole.objects.create(user=user, site=site, role=role)
    return user


def make_site(code: str, zone: str = "Africa/Nairobi") -> Site:
    site = Site.objects.create(
        code=code,
        name=code.title(),
        time_zone=zone,
        authority="Health office of the test",
        emergency_number="000",
    )
    SiteRules.objects.create(site=site)
    return site


def approve(site: Site, by: User, *codes: str) -> None:
    for code in codes:
        RegimenApproval.objects.create(
            regimen=Regimen.objects.get(code=code, version=1),
            site=site,
            authority=site.authority,
            approved_on=date(2025, 1, 1),
            document="letter 1",
            approved_by=by,
        )


def make_team(now: datetime) -> Team:
    # A test with transactions of its own has emptied the table.
    if not Regimen.objects.exists():
        regimens_load(path=REGIMENS, now=now)
    site, other = make_site("hillside"), make_site("harbour", "America/Lima")
    officer = make_user("officer", site, SiteRole.Role.OFFICER)
    stranger = make_user("stranger", other, SiteRole.Role.OFFICER)
    approve(site, officer, PRE_EXPOSURE, POST_EXPOSURE, "pep-immunised-im-0-3")
    approve(other, stranger, PRE_EXPOSURE, POST_EXPOSURE)
    member = make_user("member")
    person = make_person(site, officer, now, number="7", name="Test Member")
    person.user = member
    person.save()
    return Team(
        site=site,
        other_site=other,
        officer=officer,
        liaison=make_user("liaison", site, SiteRole.Role.LIAISON),
        lead=make_user("lead", site, SiteRole.Role.LEAD),
        member=member,
        stranger=stranger,
        person=person,
        clinic=Clinic.objects.create(site=site, name="Test Clinic", phone="000 1"),
        post_exposure=Regimen.objects.get(code=POST_EXPOSURE, version=1),
    )


def make_person(site: Site, by: User, now: datetime, number: str = "1", name: str = "Test Person") -> Person:
    return person_create(
        actor=by,
        site=site,
        number=number,
        name=name,
        now=now,
        crew_roles=CrewRole.values,
        email=f"p{number}@example.org",
    )


def also_member(team: Team, user: User) -> Person:
    """Link the team's person to `user`, who may hold a role at the site besides."""
    team.person.user = user
    team.person.save(update_fields=["user"])
    return team.person


def give_doses(person: Person, by: User, now: datetime, *days_ago: int) -> list[Dose]:
    """Pre-exposure doses so many days before the site's today."""
    today = person.site.local_date(now)
    return [
        dose_record(
            actor=by,
            person=person,
            given_on=today - timedelta(days=days),
            route="IM",
            now=now,
            purpose=Purpose.PRE_EXPOSURE,
        )
        for days in days_ago
    ]


def make_outing(site: Site, by: User, now: datetime, days_ahead: int = 3) -> tuple[Outing, Crew]:
    outing = outing_create(
        actor=by,
        site_id=site.pk,
        date=site.local_date(now) + timedelta(days=days_ahead),
        area="Test Area",
        method="house-to-house",
        # One of the past was planned on its day.
        now=now + timedelta(days=min(days_ahead, 0)),
    )
    return outing, outing.crews.get()
