"""Voiding a clinic visit that was entered in error: the person is held again without it."""

from __future__ import annotations

from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from safety.errors import Conflict
from safety.models import Decision, EndKind, Incident, Visit
from safety.notices.case.report import REPORTS
from safety.services.case.closing import lock_open_case
from safety.services.case.exposure_hold import hold_again
from safety.services.notices.notices import notices_tell
from staff.models import User
from staff.services.record.own_record import need_somebody_else
from staff.services.voiding import Voiding, VoidRule, void


def _need_no_course(incident: Incident) -> None:
    """A course rests on a visit that decided for one; the last such visit isn't voided under it."""
    if incident.visits.filter(decision=Decision.COURSE).exists():
        return
    if incident.courses.exclude(end_kind=EndKind.ERROR).exists():
        message = _(
            "A course rests on this visit. Record the right visit first, or end the course as entered in error."
        )
        raise Conflict(message, code="course-rests")


def _lock_visit(act: Voiding[Visit]) -> Incident:
    lock_open_case(act.row.incident)
    incident = Incident.objects.select_related("site__rules", "person").get(pk=act.row.incident_id)
    need_somebody_else(actor=act.actor, person=incident.person)
    return incident


def _unseen_again(act: Voiding[Visit], incident: Incident) -> None:
    _need_no_course(incident)
    hold_again(act.actor, incident, act.now)
    notices_tell(origin=REPORTS, subject=incident, now=act.now)


VISIT_VOID = VoidRule(
    model=Visit,
    action="visit.voided",
    twice=gettext_lazy("This visit is voided already."),
    lock=_lock_visit,
    about=lambda row: {"person": row.incident.person, "target": row.incident.reference, "row": row.pk},
    follow=_unseen_again,
)


def visit_void(*, actor: User, visit: Visit, reason: str, now: datetime) -> None:
    """Mark a visit as entered in error; it stays readable and counts nowhere.

    The person is held again until a visit that stands: without any, from the exposure on. Refuses as `void` does,
    while a course rests on it, in a closed case, and for one's own.
    """
    void(actor=actor, row=visit, reason=reason, now=now, rule=VISIT_VOID)
