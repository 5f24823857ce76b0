"""A reason stays with the record as it was written: too long a one is refused with a sentence, none is cut."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pytest

from safety.errors import Invalid
from safety.models import Immunoglobulin
from safety.services.case.closing import incident_close, incident_reopen
from safety.services.case.immunoglobulin import SAID_BY_LENGTH, Gift, immunoglobulin_settle
from staff.models.voidable import REASON_LENGTH
from staff.services.record.clearance import need_reason
from staff.services.record.holds import hold_place, hold_release
from tests.factories import Team
from tests.safety.clinic_scenes import bite, seen

pytestmark = pytest.mark.django_db
LONGEST = "r" * (REASON_LENGTH - 1) + "!"


def test_the_longest_reason_is_taken_whole_and_one_more_is_refused_with_a_sentence() -> None:
    assert need_reason(f"  {LONGEST}\n") == LONGEST
    with pytest.raises(Invalid) as refused:
        need_reason(LONGEST + "x", "note")
    assert refused.value.fields == {"note": "Say why in at most 300 characters; these are 301."}


def test_a_hold_its_release_and_a_closing_keep_the_whole_reason(team: Team, now: datetime) -> None:
    today = team.site.local_date(now)
    hold = hold_place(actor=team.officer, person=team.person, starts_on=today, reason=LONGEST, now=now)
    hold_release(actor=team.officer, hold=hold, last_day=today, note=LONGEST, now=now)
    hold.refresh_from_db()
    assert hold.reason == hold.release_note == LONGEST
    incident = bite(team, now)
    seen(team, incident, now, decision="no-course")
    incident_close(actor=team.officer, incident=incident, reason=LONGEST, now=now)
    incident.refresh_from_db()
    assert incident.close_reason == LONGEST


def test_more_than_is_kept_holds_releases_closes_and_opens_nothing(team: Team, now: datetime) -> None:
    today, reason, incident = team.site.local_date(now), LONGEST + "x", bite(team, now)
    hold = hold_place(actor=team.officer, person=team.person, starts_on=today, reason="asked", now=now)
    acts: tuple[Callable[[], object], ...] = (
        lambda: hold_place(
            actor=team.officer, person=team.person, starts_on=today, reason=reason, now=now, source="x"
        ),
        lambda: hold_release(actor=team.officer, hold=hold, last_day=today, note=reason, now=now),
        lambda: incident_close(actor=team.officer, incident=incident, reason=reason, now=now),
        lambda: incident_reopen(actor=team.officer, incident=incident, reason=reason, now=now),
    )
    for act in acts:
        with pytest.raises(Invalid, match="at most 300"):
            act()
    hold.refresh_from_db()
    assert hold.released_at is None and not team.person.holds.filter(source="x").exists()


def test_who_said_so_and_why_are_kept_whole_of_immunoglobulin(team: Team, now: datetime) -> None:
    visit = seen(team, bite(team, now), now, decision="no-course", immunoglobulin="unavailable")
    name = "D" * SAID_BY_LENGTH

    def settle(said_by: str, reason: str) -> None:
        immunoglobulin_settle(
            actor=team.liaison,
            visit=visit,
            gift=Gift(Immunoglobulin.NOT_GIVEN),
            said_by=said_by,
            reason=reason,
            now=now,
        )

    for said_by, reason in ((name + "x", "no need"), (name, LONGEST + "x")):
        with pytest.raises(Invalid, match="at most"):
            settle(said_by, reason)
    settle(name, LONGEST)
    visit.refresh_from_db()
    assert visit.immunoglobulin_said == f"{name}: {LONGEST}"
