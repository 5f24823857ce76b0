"""The copy of a kit list that a phone keeps holds the list alone, and its ticks are of the day that is planned."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.contrib.messages import constants
from django.contrib.messages.storage.base import Message
from django.contrib.messages.storage.cookie import CookieStorage
from django.test import RequestFactory
from django.urls import reverse

from staff.services.outing.kit import kit_tick
from staff.services.outing.outings import outing_create, outing_move
from tests.factories import Team
from tests.staff.pages.scenes import real_now, signed_in_as

pytestmark = pytest.mark.django_db
WORDS = "Test Person is not clear for field work"


def test_fetching_the_copy_neither_keeps_nor_takes_away_what_another_page_has_to_say(team: Team) -> None:
    """A page of kit in the back fetches ?copy by itself: a refusal for the page in front must not end there."""
    now = real_now()
    outing = outing_create(
        actor=team.officer,
        site_id=team.site.pk,
        date=team.site.local_date(now),
        area="Salt flats",
        method="fixed-post",
        now=now,
    )
    officer = signed_in_as(team.officer)
    storage = CookieStorage(RequestFactory().get("/"))
    officer.cookies["messages"] = storage._encode([Message(constants.ERROR, WORDS)])
    copy = officer.get(f"{reverse('kit', args=[outing.pk])}?copy").content.decode()
    assert WORDS not in copy
    assert WORDS in officer.get(reverse("outings")).content.decode()


def test_what_was_ticked_for_another_date_is_not_there_on_the_new_one(team: Team) -> None:
    now = real_now()
    today = team.site.local_date(now)
    outing = outing_create(
        actor=team.officer, site_id=team.site.pk, date=today, area="Salt flats", method="fixed-post", now=now
    )
    crew = outing.crews.get()
    kit_tick(actor=team.officer, outing=outing, crew=crew, item="soap", there=True, ticked_at=now, now=now)
    outing_move(actor=team.officer, outing=outing, date=today + timedelta(days=28), now=now)
    page = signed_in_as(team.lead).get(reverse("kit", args=[outing.pk])).content.decode()
    assert 'aria-pressed="true"' not in page
