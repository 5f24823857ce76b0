"""A report that was typed, on a page or by a program; the case itself is born in safety.services.case.incidents."""

from __future__ import annotations

import uuid
from datetime import datetime

from safety.models import Incident, PhoneLink
from safety.services.case.incident_checks import report_check
from safety.services.case.incident_facts import IncidentReport
from safety.services.case.incidents import Reported, incident_born, same_again
from staff.ground.transactions import retried
from staff.models import Outing, Person, User


@retried
def incident_report(
    *,
    actor: User | None,
    person: Person,
    key: uuid.UUID,
    report: IncidentReport,
    now: datetime,
    outing: Outing | None = None,
    link: PhoneLink | None = None,
) -> Reported:
    """A report that was typed. The same key again answers the same row; with another body it is refused.

    It comes from an account (`actor`) or by a personal `link`, whose holder it is then about. Without an `outing` the
    case belongs to the one the person was on. Raises `Invalid` naming fields, `KeyReused` for the same key with another
    body.
    """
    # The outing that was named: one that is found is no part of what was sent.
    digest = report.digest(person=person, actor=actor, outing=outing, link=link)
    if known := Incident.objects.filter(key=key).first():
        return same_again(known, digest)
    report_check(report, now)
    return incident_born(
        key=key,
        digest=digest,
        person=person,
        facts=report.facts(now),
        outing=outing,
        actor=actor,
        link=link,
        now=now,
    )
