"""An outing's details through the door: each field by its column."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, ClassVar

from django.db import models
from django.shortcuts import get_object_or_404
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from staff.api import examples
from staff.api.described import described
from staff.doors.api import OFFICER, Door, account, body
from staff.doors.api_fields import Clock, ColumnText, Degrees, Shape
from staff.models import Outing
from staff.rules.outing.outing_details import DETAILS
from staff.selectors.access import outings_managed_by
from staff.services.outing.outing_details import outing_change

_SHAPES: dict[type[models.Field[Any, Any]], Callable[[Any], serializers.Field[Any, Any, Any, Any]]] = {
    models.TimeField: lambda column: Clock(required=False, allow_null=True, help_text=_help(column)),
    models.FloatField: lambda column: Degrees(
        most=max(validator.limit_value for validator in column.validators),
        required=False,
        allow_null=True,
        help_text=_help(column),
    ),
    models.CharField: lambda column: ColumnText(
        Outing, column.name, required=False, allow_blank=True, help_text=_help(column)
    ),
}


def _help(column: Any) -> str:
    return str(column.help_text)


def _fields() -> dict[str, serializers.Field[Any, Any, Any, Any]]:
    columns = (Outing._meta.get_field(name) for name in DETAILS)
    return {column.name: _SHAPES[type(column)](column) for column in columns}  # type: ignore[index]


class DetailsIn(Shape):
    """What isn't given stays as it is; null or empty is not known."""

    def get_fields(self) -> dict[str, serializers.Field[Any, Any, Any, Any]]:
        return _fields()


class DetailsOut(serializers.Serializer[Any]):
    """What crews are told; null or empty is not known."""

    def get_fields(self) -> dict[str, serializers.Field[Any, Any, Any, Any]]:
        return _fields()


class DetailsDoor(Door):
    open_to: ClassVar = {"POST": frozenset({OFFICER})}

    @described(
        name="outings_change",
        summary="Change what crews are told of an outing; what isn't given stays",
        asks=DetailsIn,
        asked=examples.DETAILS_ASKED,
        answer=DetailsOut,
        example=examples.DETAILS,
        refusals=[404, 409],
    )
    def post(self, request: Request, pk: int) -> Response:
        officer, asked = account(request), body(request, DetailsIn)
        outing = get_object_or_404(outings_managed_by(officer), pk=pk)
        details = replace(outing.details, **asked)
        changed = outing_change(actor=officer, outing=outing, details=details, now=timezone.now())
        return Response(DetailsOut(changed.details).data)
