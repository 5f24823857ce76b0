"""What an officer is told after moving an outing is what happened."""

from __future__ import annotations

import pytest
from django.urls import reverse

from staff.services.outing.roster import roster_assign
from tests.factories import Team
from tests.staff.pages.scenes import real_now, signed_in_as
from tests.staff.roster_scene import make_field

pytestmark = pytest.mark.django_db


def test_somebody_taken_off_for_being_elsewhere_is_not_said_to_be_uncleared(team: Team) -> None:
    field = make_field(team, real_now())
    for number in (0, 1):
        crew = field.crew_of(number)
        roster_assign(
            actor=team.officer,
            outing=crew.outing,
            crew=crew,
            person=field.people["catcher 1"],
            role="catcher",
            now=field.now,
        )
    page = reverse("outing-move", args=[field.outings[0].pk])
    answer = signed_in_as(team.officer).post(page, {"date": field.day(2)}, follow=True)
    assert "off the roster" in answer.content.decode()
    assert "clear on the new date" not in " ".join(map(str, answer.context["messages"]))


def test_an_undo_that_is_refused_for_now_can_be_tried_again(team: Team) -> None:
    """Refused whole: nothing was undone, so the same step is still the last one."""
    field = make_field(team, real_now(), each=2)
    officer = signed_in_as(team.officer)
    crew = field.crew_of(0)
    cell = reverse("roster-cell", args=[field.people["catcher 1"].pk, field.day(1).isoformat()])
    officer.post(cell, {"act": "put-on", "seat": f"{crew.pk}:catcher"})
    officer.post(cell, {"act": "take-off", "reason": "swapped"})
    other = field.crew_of(0)
    between = roster_assign(
        actor=team.officer,
        outing=other.outing,
        crew=other,
        person=field.people["catcher 1"],
        role="catcher",
        now=field.now,
    )
    officer.post(reverse("roster-undo"))
    between.delete()
    officer.post(reverse("roster-undo"))
    assert field.outings[0].assignments.get().person == field.people["catcher 1"]
