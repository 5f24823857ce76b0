"""The team card: a member's personal link as a code and a picture, shown once, to be printed."""

from __future__ import annotations

import segno
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.debug import sensitive_variables

from safety.selectors.clinic.clinics import clinics_with_vaccine
from safety.selectors.phone.phone import live_link, people_with_cards
from safety.services.phone.links import link_make
from staff.doors.page import MEMBER, OFFICER, page, signed_in
from staff.doors.retry import acting

# What a card has room for.
MOST_CLINICS = 4


@page(OFFICER, MEMBER)
@sensitive_variables("made")
def phone_card(request: HttpRequest, pk: int) -> HttpResponse:
    """Asked first, for a new link ends the old one. The code is in this answer and nowhere else: no redirect."""
    user, now = signed_in(request), timezone.now()
    person = get_object_or_404(people_with_cards(user), pk=pk)
    context = {"person": person, "site": person.site, "own": person.user_id == user.pk}
    if request.method != "POST":
        return render(request, "safety/phone_card_ask.html", context | {"link": live_link(person)})
    made = acting(link_make, actor=user, person=person, now=now)
    clinics = list(clinics_with_vaccine(person.site))
    context |= {
        "made": made,
        "picture": picture_of(made.address),
        "clinics": clinics[:MOST_CLINICS],
        "more": max(0, len(clinics) - MOST_CLINICS),
    }
    return render(request, "safety/phone_card.html", context, status=201)


def picture_of(address: str) -> SafeString:
    """A QR code (ISO/IEC 18004) as inline SVG; error correction M survives a creased card."""
    drawn = segno.make(address, error="m", micro=False).svg_inline(scale=4, border=4)
    # Made by the library from the address alone, which holds nothing anybody typed.
    return mark_safe(drawn)
