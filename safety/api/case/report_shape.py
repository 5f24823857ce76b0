"""What a report says, as a program sends it."""

from __future__ import annotations

from typing import Any

from safety.models import Animal, Answer, BodySite, Cause, ContactKind, Kind, Task
from safety.services.case.incident_facts import IncidentReport, WoundReport
from staff.doors.api_fields import Choice, Instant, Many, Shape, Text, Whole
from staff.doors.api_reading import LARGEST_BODY


class WoundIn(Shape):
    contact = Choice(ContactKind.choices, default=ContactKind.UNKNOWN.value)
    body_site = Choice(BodySite.choices, default=BodySite.UNKNOWN.value)
    broke_skin = Choice(Answer.choices, default=Answer.UNKNOWN.value)
    bled = Choice(Answer.choices, default=Answer.UNKNOWN.value)


class IncidentIn(Shape):
    person = Whole(required=False, help_text="Who it happened to; without it yourself.")
    kind = Choice(Kind.choices)
    happened_at = Instant()
    animal = Choice(Animal.choices, default=Animal.UNKNOWN.value)
    task = Choice(Task.choices, default=Task.UNKNOWN.value)
    causes = Many(child=Choice(Cause.choices), longest=20, required=False)
    wounds = Many(child=WoundIn(), longest=20, required=False)
    washed_minutes = Whole(
        lowest=0,
        highest=180,
        required=False,
        allow_null=True,
        help_text="0: not washed. Null or not given: not recorded.",
    )
    soap = Choice(Answer.choices, default=Answer.UNKNOWN.value)
    # Never refused for its length; the body has its own bound.
    narrative = Text(longest=LARGEST_BODY, required=False, allow_blank=True, default="")
    outing = Whole(required=False, help_text="The outing it happened on.")


def report_of(asked: dict[str, Any]) -> IncidentReport:
    wounds = tuple(WoundReport(**wound) for wound in asked.pop("wounds", ()))
    return IncidentReport(wounds=wounds, causes=tuple(asked.pop("causes", ())), **asked)
