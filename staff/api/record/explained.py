"""Clearance of one person explained: the chain from the record to the answer, and the way to a clear date."""

from __future__ import annotations

from typing import Any, ClassVar

from django.http import Http404
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from staff.api.described import described
from staff.api.record import examples_explained as examples
from staff.doors.api import LIAISON, MEMBER, OFFICER, Door, account, query
from staff.doors.api_fields import IsoDate, Shape
from staff.selectors.access import records_visible_to
from staff.selectors.record.explained import Explained, clearance_explained
from staff.services.audit import audit_look


class DoseLinkOut(serializers.Serializer[Any]):
    given_on = serializers.DateField()
    counts = serializers.BooleanField(allow_null=True, help_text="null: no series judges it.")
    step = serializers.IntegerField(allow_null=True)
    words = serializers.CharField(allow_blank=True)


class LinkOut(serializers.Serializer[Any]):
    """One thing the site asks for. `binding` false: it only advises."""

    name = serializers.CharField()
    met = serializers.BooleanField()
    binding = serializers.BooleanField()
    since = serializers.DateField(allow_null=True)
    until = serializers.DateField(allow_null=True)
    codes = serializers.ListField(child=serializers.CharField())
    words = serializers.ListField(child=serializers.CharField())


class ActionOut(serializers.Serializer[Any]):
    """One thing that would help; `kind` decision: a person decides and no date follows."""

    kind = serializers.CharField()
    number = serializers.IntegerField(allow_null=True)
    earliest_on = serializers.DateField(allow_null=True)
    last_on = serializers.DateField(allow_null=True)
    words = serializers.CharField()


class ExplainedOut(serializers.Serializer[Any]):
    person = serializers.IntegerField()
    on = serializers.DateField()
    cleared = serializers.BooleanField()
    stored = serializers.BooleanField(
        help_text="Whether the stored clearance covers the date and doesn't wait to be recomputed."
    )
    regimen = serializers.CharField(allow_null=True)
    doses = DoseLinkOut(many=True)
    chain = LinkOut(many=True)
    actions = ActionOut(many=True)
    earliest_clear_on = serializers.DateField(
        allow_null=True,
        help_text="From `on`, if everything is done in time; the same as `clear_from` of the list.",
    )
    earliest_clear_words = serializers.CharField()


class ExplainedQuery(Shape):
    on = IsoDate(required=False, help_text="Without it: today at the person's site.")


class ExplainedDoor(Door):
    open_to: ClassVar = {"GET": frozenset({OFFICER, LIAISON, MEMBER})}

    @described(
        name="clearance_explain",
        summary="Why a person is or isn't clear on a date, and what would change it",
        answer=ExplainedOut,
        example=examples.EXPLAINED,
        parameters=[ExplainedQuery],
        refusals=[404],
    )
    def get(self, request: Request, pk: int) -> Response:
        viewer, asked, now = account(request), query(request, ExplainedQuery), timezone.now()
        person = records_visible_to(viewer).filter(pk=pk).first()
        if person is None:
            raise Http404
        today = person.site.local_date(now)
        audit_look(viewer=viewer, person=person, now=now, target="clearance")
        found = clearance_explained(person, on=asked.get("on", today), today=today)
        return Response(ExplainedOut(_answer(found)).data)


def _answer(found: Explained) -> dict[str, Any]:
    return {
        "person": found.person.pk,
        "on": found.on,
        "cleared": found.clear,
        "stored": found.stored,
        "regimen": found.regimen.code if found.regimen else None,
        "doses": [
            {"given_on": line.dose.given_on, "counts": line.counts, "step": line.step, "words": line.words}
            for line in found.doses
        ],
        "chain": found.links,
        "actions": found.steps,
        "earliest_clear_on": found.clear_on,
        "earliest_clear_words": found.clear_from.words,
    }
