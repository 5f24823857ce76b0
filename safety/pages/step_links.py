"""Where each next step of a case is done."""

from __future__ import annotations

from django.urls import reverse

from safety.models import Decision, Incident
from safety.selectors.steps import NextStep, immunoglobulin_missing
from staff.models import User

# The name of an address that takes the case's reference.
STEP_PAGES = {
    "referral": "case-referral",
    "visit": "case-visit",
    "course": "case-course",
    "close": "case-close",
    "unlisted": "case",
    "animal-check-today": "animal-check",
    "animal-check-missing": "animal-check",
    "animal-last-day": "animal-outcome",
    "animal-laboratory": "animal-outcome",
}
# Those done in the running course: the name of an address that takes the course's number.
COURSE_PAGES = {"dose": "course-dose", "complete": "course-end"}
# Steps nobody does in a case of their own: see staff.services.own_record.
SOMEBODY_ELSES = frozenset({"visit", "dose", "titre", "immunoglobulin"})


def step_url(incident: Incident, step: NextStep, user: User) -> str:
    """Empty where the step has no page of its own, or is another's to do."""
    if step.code in SOMEBODY_ELSES and incident.person.user_id == user.pk:
        return ""
    if step.code == "wash":
        return f"{reverse('case', args=[incident.reference])}#washing"
    if step.code == "titre":
        return reverse("titre-add", args=[incident.person_id])
    if step.code in COURSE_PAGES:
        running = next((c for c in incident.courses.all() if c.ended_on is None), None)
        return reverse(COURSE_PAGES[step.code], args=[running.pk]) if running else ""
    if step.code == "immunoglobulin" and (seen := immunoglobulin_missing(incident)) is not None:
        return reverse("case-immunoglobulin", args=[incident.reference, seen.pk])
    if step.code == "decision":
        pending = [visit for visit in incident.visits.all() if visit.decision == Decision.PENDING]
        return reverse("case-decision", args=[incident.reference, pending[-1].pk]) if pending else ""
    name = STEP_PAGES.get(step.code)
    return reverse(name, args=[incident.reference]) if name else ""
