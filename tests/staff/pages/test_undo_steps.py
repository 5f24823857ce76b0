"""Pressing undo takes back the last change or nothing: never an earlier one in its place."""

from __future__ import annotations

import pytest
from django.urls import reverse

from staff.services.record.holds import hold_place
from tests.factories import Team
from tests.staff.pages.scenes import real_now, signed_in_as
from tests.staff.roster_scene import make_field

pytestmark = pytest.mark.django_db


def test_after_a_refused_undo_the_next_press_takes_nothing_else_back(team: Team) -> None:
    field = make_field(team, real_now(), each=2)
    officer, crew = signed_in_as(team.officer), field.crew_of(0)

    def cell(name: str) -> str:
        return reverse("roster-cell", args=[field.people[name].pk, field.day(1).isoformat()])

    officer.post(cell("catcher 1"), {"act": "put-on", "seat": f"{crew.pk}:catcher"})
    officer.post(cell("recorder 1"), {"act": "put-on", "seat": f"{crew.pk}:recorder"})
    officer.post(cell("catcher 1"), {"act": "take-off", "reason": "swapped"})
    hold_place(
        actor=team.officer,
        person=field.people["catcher 1"],
        reason="scan",
        now=field.now,
        starts_on=field.today,
    )
    assert field.outings[0].assignments.get().person == field.people["recorder 1"]
    officer.post(reverse("roster-undo"))
    officer.post(reverse("roster-undo"))
    assert field.outings[0].assignments.filter(person=field.people["recorder 1"]).exists()


def test_who_said_they_cannot_come_is_not_handed_a_place_unasked(team: Team) -> None:
    field = make_field(team, real_now(), each=2)
    officer, crew = signed_in_as(team.officer), field.crew_of(0)
    day = field.day(1).isoformat()
    officer.post(reverse("wishes", args=[field.people["catcher 2"].pk]), {"kind": "cannot", "first_on": day})
    page = reverse("roster-cell", args=[field.people["catcher 1"].pk, day])
    officer.post(page, {"act": "put-on", "seat": f"{crew.pk}:catcher"})
    text = officer.get(page).content.decode()
    assert "act-take-off" in text
    assert "catcher 2" not in text
