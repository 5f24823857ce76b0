"""The regimen table, to read."""

from __future__ import annotations

from typing import Any, ClassVar

from django.http import Http404
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from staff.api import examples
from staff.api.described import described
from staff.doors.api import ANYONE, Door, account, query
from staff.doors.api_fields import NoQuery, Shape, Whole
from staff.models import Purpose, Regimen, Route
from staff.selectors.regimen.regimens import regimen_version, regimens_visible_to


class StepOut(serializers.Serializer[Any]):
    number = serializers.IntegerField()
    day = serializers.IntegerField(help_text="Counted from day 0, the date of the first dose given.")
    latest_day = serializers.IntegerField()
    smallest_gap = serializers.IntegerField(help_text="Days after the step before; earlier doesn't count.")
    injections = serializers.IntegerField()
    later = serializers.BooleanField(help_text="Keeps a series that is complete already.")


class ApprovalOut(serializers.Serializer[Any]):
    site = serializers.CharField(source="site.code")
    authority = serializers.CharField()
    approved_on = serializers.DateField()
    document = serializers.CharField()


class RegimenOut(serializers.Serializer[Any]):
    """One version of one regimen. Without an approval it may be seen and tried, not used."""

    code = serializers.CharField()
    version = serializers.IntegerField()
    name = serializers.CharField()
    purpose = serializers.ChoiceField(choices=Purpose.choices)
    routes = serializers.ListField(child=serializers.ChoiceField(choices=Route.choices))
    for_whom = serializers.ChoiceField(choices=Regimen.ForWhom.choices)
    source = serializers.CharField()  # type: ignore[assignment]  # a field of ours, not the option of that name
    source_kind = serializers.ChoiceField(choices=Regimen.SourceKind.choices)
    state = serializers.ChoiceField(
        choices=Regimen.State.choices, help_text="Drafts and submitted versions are seen by officers alone."
    )
    steps = StepOut(many=True)
    approvals = serializers.SerializerMethodField()

    @extend_schema_field(ApprovalOut(many=True))
    def get_approvals(self, regimen: Regimen) -> list[dict[str, Any]]:
        standing = [row for row in regimen.approvals.all() if row.withdrawn_at is None]
        return [dict(row) for row in ApprovalOut(standing, many=True).data]


class VersionQuery(Shape):
    version = Whole(
        required=False,
        highest=32767,
        help_text="Without it: the newest version an authority has approved, else the newest.",
    )


def regimen_asked(request: Request, code: str) -> Regimen:
    regimen = regimen_version(account(request), code, query(request, VersionQuery).get("version"))
    if regimen is None:
        raise Http404
    return regimen


class RegimensDoor(Door):
    open_to: ClassVar = {"GET": frozenset({ANYONE})}

    @described(
        name="regimens_list",
        summary="Every version of every regimen, with steps, source and approvals",
        answer=RegimenOut(many=True),
        example=examples.REGIMEN,
    )
    def get(self, request: Request) -> Response:
        query(request, NoQuery)
        return Response(RegimenOut(regimens_visible_to(account(request)), many=True).data)


class RegimenDoor(Door):
    open_to: ClassVar = {"GET": frozenset({ANYONE})}

    @described(
        name="regimens_one",
        summary="One regimen",
        answer=RegimenOut,
        example=examples.REGIMEN,
        parameters=[VersionQuery],
        refusals=[404],
    )
    def get(self, request: Request, code: str) -> Response:
        return Response(RegimenOut(regimen_asked(request, code)).data)
