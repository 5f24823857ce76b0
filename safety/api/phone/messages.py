"""Sealed messages of phones, taken in."""

from __future__ import annotations

import uuid
from typing import Any, ClassVar

from django.utils import timezone
from django.utils.translation import gettext as _
from drf_spectacular.utils import OpenApiParameter
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from safety.api.phone import examples_phone
from safety.api.phone.phone import OpenDoor, SmallJSONParser
from safety.errors import Invalid
from safety.models import SealKey
from safety.services.phone.receive import message_receive
from staff.api.described import described
from staff.doors.api import body
from staff.doors.api_fields import ColumnText, Shape, Text
from staff.doors.retry import acting


class MessageIn(Shape):
    key_id = ColumnText(SealKey, "key_id", help_text="The public key it is sealed to, from the field card.")
    sealed = Text(
        longest=SmallJSONParser.largest,
        help_text=(
            "RFC 9180 base mode, DHKEM(P-256, HKDF-SHA256), HKDF-SHA256, AES-128-GCM; enc followed by the "
            "ciphertext, base64url without padding. info is “three-fifteen phone 1 ” and the message's key."
        ),
    )


class MessageOut(serializers.Serializer[Any]):
    received = serializers.BooleanField()
    reference = serializers.CharField(
        allow_null=True, help_text="Of the case; null while the message waits for a person to look at it."
    )


class PhoneMessagesDoor(OpenDoor):
    """Takes a sealed message. The same key with the same message answers the same each time."""

    open_to: ClassVar = {}

    @described(
        name="phone_messages",
        summary="Hand in a sealed message of a phone; sent again under the same key it is the same message",
        asks=MessageIn,
        asked=examples_phone.MESSAGE_ASKED,
        answer=MessageOut,
        example=examples_phone.MESSAGE,
        status=201,
        parameters=[
            OpenApiParameter(
                "Idempotency-Key",
                str,
                OpenApiParameter.HEADER,
                required=True,
                description="A UUID made once for this message; the seal is bound to it.",
            )
        ],
        refusals=[409, 422, 429],
        keyed=False,
    )
    def post(self, request: Request) -> Response:
        key = _message_key(request.headers.get("Idempotency-Key", ""))
        said = body(request, MessageIn)
        received = acting(
            message_receive, key=key, key_id=said["key_id"], sealed=said["sealed"], now=timezone.now()
        )
        return Response(MessageOut({"received": True, "reference": received.reference}).data, status=201)


def _message_key(header: str) -> uuid.UUID:
    try:
        return uuid.UUID(header.strip().strip('"'))
    except ValueError:
        words = _(
            "Send the header Idempotency-Key: a UUID made once for this message and kept for every try."
        )
        raise Invalid({"Idempotency-Key": words}) from None
