"""The kit of an outing's crews and what of it is ticked."""

from __future__ import annotations

from typing import Any, ClassVar

from django.shortcuts import get_object_or_404
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from staff.api import examples
from staff.api.described import described
from staff.doors.api import LEAD, LIAISON, MEMBER, OFFICER, Door, account
from staff.rules.outing.kit import Item, Unit
from staff.selectors.access import outings_visible_to
from staff.selectors.outing.kit import outing_kit

# drf-spectacular names the shape of a choice after its field; these two need names of their own.
ITEMS = [(item.value, item.value) for item in Item]
UNITS = [(unit.value, unit.value) for unit in Unit]


class KitItemOut(serializers.Serializer[Any]):
    item = serializers.ChoiceField(choices=ITEMS, source="line.item")
    words = serializers.CharField()
    need = serializers.IntegerField(source="line.need", help_text="What the work uses as expected.")
    count = serializers.IntegerField(source="line.count", help_text="What is carried, with the spare share.")
    unit = serializers.ChoiceField(choices=UNITS, source="line.unit")
    there = serializers.BooleanField(help_text="True only when somebody has ticked it.")
    ticked_at = serializers.DateTimeField(source="tick.ticked_at", allow_null=True, default=None)


class CrewKitOut(serializers.Serializer[Any]):
    id = serializers.IntegerField(source="crew.pk")
    name = serializers.CharField(source="crew.name")
    complete = serializers.BooleanField()
    items = KitItemOut(many=True, source="rows")


class KitOut(serializers.Serializer[Any]):
    outing = serializers.IntegerField()
    crews = CrewKitOut(many=True)


class KitDoor(Door):
    open_to: ClassVar = {"GET": frozenset({OFFICER, LIAISON, LEAD, MEMBER})}

    @described(
        name="outings_kit",
        summary="What each crew of an outing carries, and what of it is ticked",
        answer=KitOut,
        example=examples.KIT,
        refusals=[404],
    )
    def get(self, request: Request, pk: int) -> Response:
        outing = get_object_or_404(outings_visible_to(account(request)), pk=pk)
        return Response(KitOut({"outing": outing.pk, "crews": outing_kit(outing)}).data)
