"""Undo after somebody only changed seats."""

from __future__ import annotations

import pytest
from django.urls import reverse

from staff.models import Assignment
from staff.services.outing.roster_changes import Seat, roster_replace
from tests.factories import Team
from tests.staff.pages.scenes import real_now, signed_in_as
from tests.staff.roster_scene import Field, make_field

pytestmark = pytest.mark.django_db


@pytest.fixture
def field(team: Team) -> Field:
    found = make_field(team, real_now())
    found.people["catcher 1"].crew_roles.create(role="recorder")
    return found


def cell(field: Field) -> str:
    return reverse("roster-cell", args=[field.people["catcher 1"].pk, field.day(1).isoformat()])


def test_seat_by_seat_everything_is_taken_back(field: Field) -> None:
    officer, crew = signed_in_as(field.team.officer), field.crew_of(0)
    officer.post(cell(field), {"act": "put-on", "seat": f"{crew.pk}:catcher"})
    officer.post(cell(field), {"act": "move", "seat": f"{crew.pk}:recorder"})
    assert Assignment.objects.get().role == "recorder"
    officer.post(reverse("roster-undo"))
    assert Assignment.objects.get().role == "catcher"
    officer.post(reverse("roster-undo"))
    assert not Assignment.objects.exists()


def test_whoever_got_another_seat_from_somebody_else_is_not_taken_off_by_an_undo(field: Field) -> None:
    officer, crew = signed_in_as(field.team.officer), field.crew_of(0)
    officer.post(cell(field), {"act": "put-on", "seat": f"{crew.pk}:catcher"})
    held = Assignment.objects.get()
    seat = Seat(crew, held.person, "recorder")
    roster_replace(actor=field.team.officer, assignment=held, seat=seat, reason="swapped", now=real_now())
    answer = officer.post(reverse("roster-undo"), follow=True)
    assert "changed since" in answer.content.decode()
    assert Assignment.objects.get().role == "recorder"
