"""The phone's doors. They ask for no key: what opens them is a personal link, and it reads nothing about people."""

from __future__ import annotations

import uuid
from dataclasses import asdict
from typing import Any, ClassVar

from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_variables
from drf_spectacular.utils import OpenApiParameter
from rest_framework import serializers
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response

from safety.api.phone import examples_phone
from safety.errors import Invalid, NotAllowed, TooMany
from safety.models import SealKey, Stock
from safety.rules.case.washing import WASH_MINUTES
from safety.selectors.phone.phone import field_card
from safety.services.phone.keys import public_keys
from safety.services.phone.links import LinkState, card_refusal, link_check, link_used
from safety.services.phone.receive import message_receive
from safety.words import caution_words
from staff.api.described import described
from staff.doors.api import Door, body
from staff.doors.api_fields import ColumnText, Shape, Text
from staff.doors.api_reading import JSONObjectParser
from staff.doors.retry import acting


class SmallJSONParser(JSONObjectParser):
    """Anybody may write to these doors, so their bound is smaller; ten pages of a story still fit, in any script."""

    largest = 128 * 1024


class OpenDoor(Door):
    """Open without a key, and without an account: a session that comes along is not looked at."""

    authentication_classes = ()  # type: ignore[assignment]  # the key of the other doors
    permission_classes = (AllowAny,)
    parser_classes = (SmallJSONParser,)

    def check_permissions(self, request: Request) -> None:
        """Nothing to check here: each door asks for what opens it."""


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


class PublicKeyOut(serializers.Serializer[Any]):
    key_id = serializers.CharField()
    public = serializers.CharField(help_text="Uncompressed P-256 point, base64url without padding.")
    until = serializers.DateTimeField(help_text="After this, seal to a newer key.")


class KeysOut(serializers.Serializer[Any]):
    wash_minutes = serializers.IntegerField()
    keys = PublicKeyOut(many=True)


class CardIn(Shape):
    link = Text(longest=80, help_text="The code of the card; hyphens and small letters don't matter.")


class CardClinicOut(serializers.Serializer[Any]):
    id = serializers.IntegerField()
    name = serializers.CharField()
    phone = serializers.CharField()
    address = serializers.CharField()
    latitude = serializers.FloatField(allow_null=True)
    longitude = serializers.FloatField(allow_null=True)
    vaccine = serializers.ChoiceField(choices=Stock.choices)
    immunoglobulin = serializers.ChoiceField(choices=Stock.choices)
    confirmed_on = serializers.DateField(allow_null=True)
    open = serializers.ListField(
        child=serializers.ListField(child=serializers.DateTimeField(), min_length=2, max_length=2),
        allow_null=True,
        help_text="From and until, up to the card's open_until; null when the hours aren't known.",
    )
    hours = serializers.CharField(allow_blank=True)


class CardOut(serializers.Serializer[Any]):
    """Numbers and clinics of the link's site; nothing about anybody."""

    site = serializers.CharField()
    zone = serializers.CharField()
    language = serializers.CharField()
    emergency_number = serializers.CharField()
    authority = serializers.CharField()
    wash_minutes = serializers.IntegerField()
    travel_kmh = serializers.IntegerField()
    clinic_news_days = serializers.IntegerField(
        help_text="How long a clinic's word on its stock is relied on."
    )
    clinic_of_day_minutes = serializers.IntegerField(
        help_text="How much farther the clinic of the day may be."
    )
    immunoglobulin_minutes = serializers.IntegerField(
        help_text="How much more travel immunoglobulin is worth."
    )
    caution = serializers.CharField()
    keys = PublicKeyOut(many=True)
    clinics = CardClinicOut(many=True)
    day = serializers.DateField(help_text="The site's date.")
    clinic_of_the_day = serializers.IntegerField(
        allow_null=True,
        help_text="The clinic the crew of the link's holder goes by on that day; null when none is.",
    )
    offsets = serializers.ListField(
        child=serializers.ListField(min_length=2, max_length=2),
        help_text="From which instant on the site's clocks are how many minutes ahead of UTC.",
    )
    open_until = serializers.DateTimeField(help_text="From then on the hours of all clinics are unknown.")
    made_at = serializers.DateTimeField()


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


class PhoneKeysDoor(OpenDoor):
    """For a phone without a link: what to seal to, and nothing else."""

    @described(
        name="phone_keys",
        summary="The public keys phones seal to",
        answer=KeysOut,
        example=examples_phone.KEYS,
        keyed=False,
    )
    def get(self, _request: Request) -> Response:
        keys = [asdict(key) for key in public_keys(now=timezone.now())]
        return Response(KeysOut({"wash_minutes": WASH_MINUTES, "keys": keys}).data)


class PhoneCardDoor(OpenDoor):
    """The field card of a link's site, for the phone to keep. A POST, so that the link stands in no address."""

    @described(
        name="phone_card",
        summary="Numbers, clinics and keys of the site a link belongs to",
        asks=CardIn,
        asked=examples_phone.CARD_ASKED,
        answer=CardOut,
        example=examples_phone.CARD,
        refusals=[403, 409, 429],
        keyed=False,
    )
    @sensitive_variables("said")
    def post(self, request: Request) -> Response:
        now, said = timezone.now(), body(request, CardIn)
        check = acting(link_check, code=said["link"], now=now)
        if check.state is LinkState.LOCKED:
            raise TooMany(card_refusal(check), retry_after=check.wait_seconds)
        if check.state is not LinkState.LIVE or check.link is None:
            raise NotAllowed(card_refusal(check), code="link-invalid")
        acting(link_used, link=check.link, now=now)
        card = asdict(field_card(check.link.person, now))
        card |= {"keys": [asdict(key) for key in public_keys(now=now)], "caution": caution_words()}
        return Response(CardOut(card).data)


def _message_key(header: str) -> uuid.UUID:
    try:
        return uuid.UUID(header.strip().strip('"'))
    except ValueError:
        words = _(
            "Send the header Idempotency-Key: a UUID made once for this message and kept for every try."
        )
        raise Invalid({"Idempotency-Key": words}) from None
