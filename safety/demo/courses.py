"""The courses of the demo's cases."""

from __future__ import annotations

from datetime import datetime, timedelta

from safety.demo.programme import CLINICS, COURSE_REGIMEN, IMMUNISED_REGIMEN, at
from safety.demo.stages import Stage
from safety.models import EndKind, Incident
from safety.services.course.course import course_start
from safety.services.course.course_doses import course_dose_record
from safety.services.course.course_ending import course_end
from staff.models import Regimen, User


def run_course(incident: Incident, stage: Stage, liaison: User, seen_at: datetime, now: datetime) -> None:
    site, first = incident.site, incident.site.local_date(seen_at)
    course = course_start(
        actor=liaison,
        incident=incident,
        regimen=Regimen.objects.get(code=IMMUNISED_REGIMEN if stage.immunised else COURSE_REGIMEN, version=1),
        starts_on=first,
        now=seen_at,
    )
    for days in stage.given:
        given_on = first + timedelta(days=days)
        course_dose_record(
            actor=liaison,
            course=course,
            given_on=given_on,
            now=min(now, max(seen_at, at(site, given_on, 15))),
            product="Cell-culture vaccine (demo)",
            place=CLINICS[0 if stage.immunised else 1],
        )
    if stage.closed:
        course_end(
            actor=liaison,
            course=course,
            ended_on=given_on,
            kind=EndKind.COMPLETED,
            reason="All doses given.",
            now=now,
        )
