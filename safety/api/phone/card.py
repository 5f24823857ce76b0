"""The field card of a link's site, for the phone to keep."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from django.utils import timezone
from django.views.decorators.debug import sensitive_variables
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from safety.api.phone import examples_phone
from safety.api.phone.phone import OpenDoor, PublicKeyOut
from safety.errors import NotAllowed, TooMany
from safety.models import Stock
from safety.selectors.phone.phone import field_card
from safety.services.phone.keys import public_keys
from safety.services.phone.links import LinkState, card_refusal, link_check, link_used
from safety.words import caution_words
from staff.api.described import described
from staff.doors.api import body
from staff.doors.api_fields import Shape, Text
from staff.doors.retry import acting


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
