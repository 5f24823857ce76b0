"""Versions of regimens in each state, made through the services."""

from __future__ import annotations

from datetime import date, datetime

from staff.models import Regimen, RegimenApproval, SiteRole, User
from staff.services.regimen.approvals import regimen_approve
from staff.services.regimen.regimen_drafts import regimen_copy, regimen_submit
from tests.factories import Team, make_user


def second_officer(team: Team) -> User:
    return make_user("second", team.site, SiteRole.Role.OFFICER)


def draft_of(team: Team, now: datetime, code: str = "prep-im-0-7-21") -> Regimen:
    """The next version of a listed regimen, drafted by the site's officer."""
    listed = Regimen.objects.get(code=code, version=1)
    return regimen_copy(actor=team.officer, regimen=listed, code=code, now=now)


def submitted_of(team: Team, now: datetime, code: str = "prep-im-0-7-21") -> Regimen:
    draft = draft_of(team, now, code)
    regimen_submit(actor=team.officer, regimen=draft, now=now)
    draft.refresh_from_db()
    return draft


def approve_by(actor: User, team: Team, regimen: Regimen, now: datetime) -> RegimenApproval:
    return regimen_approve(
        actor=actor,
        regimen=regimen,
        site=team.site,
        authority="Health office of the test",
        approved_on=date(2026, 1, 1),
        document="letter 5",
        now=now,
    )
