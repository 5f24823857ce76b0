"""The demo keeps the rules it shows: whom a number rings, who gets which course, what a crew is told."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.core.management import call_command
from django.utils import timezone

from safety.demo.programme import COURSE_REGIMEN, IMMUNISED_REGIMEN
from safety.models import Clinic, Incident, Observation
from staff.models import Outing, Person, Site
from staff.selectors.record.immunisation import immunisation_before

# Ofcom's numbers for drama: see safety/demo/telephones.py.
RINGS_NOBODY = re.compile(r"\+44 1632 960 \d{3}")
# No immunoglobulin for somebody immunised, and in category III for somebody who isn't: WHO position paper on rabies
# vaccines, 2018. The regimens' own sources stand in the table.
AT_THE_CLINIC = {(True, IMMUNISED_REGIMEN, "no"), (False, COURSE_REGIMEN, "yes")}


@pytest.mark.django_db
def test_the_demo_keeps_the_rules_it_shows(settings: Any) -> None:
    """One load for all, for it takes its time."""
    settings.DEMO = True
    call_command("load_demo")
    assert [number for number in telephones() if not RINGS_NOBODY.fullmatch(number)] == []
    assert courses() == AT_THE_CLINIC
    for site in Site.objects.all():
        coming = site.outings.filter(date__gte=site.local_date(timezone.now()), campaign=None)
        assert coming.count() == 5
        assert [one for one in coming if not (one.start_time and one.meeting_place and one.day_phone)] == []


def telephones() -> list[str]:
    rows = [
        Site.objects.values_list("emergency_number", flat=True),
        Clinic.objects.values_list("phone", flat=True),
        Person.objects.values_list("phone", flat=True),
        Observation.objects.values_list("keeper_phone", flat=True),
        Outing.objects.exclude(day_phone="").values_list("day_phone", flat=True),
    ]
    found = [number for each in rows for number in each]
    assert len(found) > Person.objects.count() + Clinic.objects.count() + Site.objects.count()
    return found


def courses() -> set[tuple[bool, str, str]]:
    """Immunised before the day or not, the regimen and the word on immunoglobulin of every course."""
    found = set()
    for incident in Incident.objects.all():
        before = immunisation_before(incident.person, incident.site.local_date(incident.happened_at))
        immunised = before.complete_on is not None and not before.lapses
        # Nobody who isn't immunised is out with a crew.
        assert immunised or incident.task == "other", incident.person
        # Nor waits for a dose before field work while a course runs.
        assert immunised or not incident.person.campaign_memberships.exists(), incident.person
        found |= {
            (immunised, course.regimen.code if course.regimen else "", visit.immunoglobulin)
            for course in incident.courses.all()
            for visit in incident.visits.all()
        }
    return found
