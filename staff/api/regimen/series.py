"""Which doses of a series count under a regimen and when the next is due; computed and stored nowhere."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any, ClassVar

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from staff.api import examples
from staff.api.described import described
from staff.api.regimen.regimens import VersionQuery, regimen_asked
from staff.doors.api import ANYONE, Door, body
from staff.doors.api_fields import Choice, IsoDate, Many, Shape, Whole
from staff.ground.dates import month_end
from staff.models import DateKnown, Route
from staff.rules.record.mixed import accepted_routes
from staff.rules.record.series import DoseReason, DoseResult, evaluate_series
from staff.rules.regimen.values import DoseFact
from staff.rules.regimen.values import Route as RuleRoute
from staff.selectors.regimen.regimens import regimens_known
from staff.words import dose_words


class GivenDoseIn(Shape):
    given_on = IsoDate()
    date_known = Choice(
        DateKnown.choices, default="day", help_text="“month”: any day of it; its last counts."
    )
    route = Choice(Route.choices, required=False, allow_null=True, help_text="Not given or null: not known.")
    injections = Whole(highest=20, required=False, allow_null=True)


class SeriesIn(Shape):
    doses = Many(child=GivenDoseIn(), longest=100)
    on = IsoDate(help_text="Date on which things are judged; later doses are in the future.")
    mixed_routes = serializers.BooleanField(
        required=False,
        help_text="Another route counts as its own regimen with as many visits asks; so a site may decide.",
    )


class NextDoseOut(serializers.Serializer[Any]):
    number = serializers.IntegerField()
    earliest_on = serializers.DateField()
    due_on = serializers.DateField()
    latest_on = serializers.DateField()


class JudgedDoseOut(serializers.Serializer[Any]):
    given_on = serializers.DateField()
    counts = serializers.BooleanField()
    step = serializers.IntegerField(allow_null=True)
    reason = serializers.CharField(allow_null=True, help_text="Why it doesn't count, in words.")
    reason_code = serializers.ChoiceField(
        allow_null=True, choices=[(one.value, one.value) for one in DoseReason]
    )


class SeriesOut(serializers.Serializer[Any]):
    valid_doses = serializers.IntegerField()
    complete_on = serializers.DateField(allow_null=True)
    next = NextDoseOut(allow_null=True)
    doses = JudgedDoseOut(many=True)


class SeriesDoor(Door):
    open_to: ClassVar = {"POST": frozenset({ANYONE})}

    @described(
        name="regimens_series",
        summary="Compute which doses count and when the next is due; stores nothing",
        asks=SeriesIn,
        asked=examples.SERIES_ASKED,
        answer=SeriesOut,
        example=examples.SERIES,
        parameters=[VersionQuery],
        refusals=[404],
    )
    def post(self, request: Request, code: str) -> Response:
        regimen, asked = regimen_asked(request, code), body(request, SeriesIn)
        rule, table = regimen.as_rule(), [row.as_rule() for row in regimens_known()]
        result = evaluate_series(
            regimen=rule,
            doses=[_fact(dose) for dose in asked["doses"]],
            on=asked["on"],
            other_routes=accepted_routes(rule, table, mixed=asked.get("mixed_routes", False)),
        )
        judged = {
            "valid_doses": result.valid_doses,
            "complete_on": result.complete_on,
            "next": asdict(result.next) if result.next else None,
            "doses": [_judged(dose) for dose in result.doses],
        }
        return Response(SeriesOut(judged).data)


def _fact(dose: dict[str, Any]) -> DoseFact:
    route, month_only = dose.get("route"), dose["date_known"] == DateKnown.MONTH
    return DoseFact(
        given_on=month_end(dose["given_on"]) if month_only else dose["given_on"],
        month_only=month_only,
        route=RuleRoute(route) if route else None,
        injections=dose.get("injections"),
    )


def _judged(result: DoseResult) -> dict[str, Any]:
    return {
        "given_on": result.dose.given_on,
        "counts": result.counts,
        "step": result.step,
        "reason": dose_words(result) or None,
        "reason_code": result.reason.value if result.reason else None,
    }
