"""One's own calendar feed: the link on the account page, and what programs fetch by it."""

from __future__ import annotations

from functools import partial

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_POST, require_safe

from safety.emails.feed import feed_text
from safety.models import CalendarFeed
from safety.pages.animal.animal_link import unseen
from safety.pages.phone.cards import picture_of
from safety.selectors.notices.feed import person_feed
from safety.selectors.phone.phone import people_with_cards
from safety.services.notices.feed import feed_end, feed_make, feed_opened, feed_refresh
from staff.doors.form import After, pressed
from staff.doors.page import ANYONE, MEMBER, OFFICER, open_page, page, signed_in
from staff.doors.retry import acting

ENDED = gettext_lazy("The calendar's link has ended: whoever holds it reads nothing any more.")


@require_POST
@page(ANYONE)
@sensitive_variables("made")
def making(request: HttpRequest) -> HttpResponse:
    """The address is in this answer and nowhere else: no redirect."""
    made = acting(feed_make, user=signed_in(request), now=timezone.now())
    context = {"made": made, "back": reverse("account")}
    return render(request, "safety/calendar_made.html", context, status=201)


@require_POST
@page(ANYONE)
def ending(request: HttpRequest) -> HttpResponse:
    act = partial(feed_end, user=signed_in(request), now=timezone.now())
    return pressed(request, act, After(back=reverse("account"), done=str(ENDED)))


@page(OFFICER, MEMBER)
@sensitive_variables("made")
def person_calendar(request: HttpRequest, pk: int) -> HttpResponse:
    """The address of somebody who may have no account, to be handed over as the team card is; shown once."""
    user, now = signed_in(request), timezone.now()
    person = get_object_or_404(people_with_cards(user), pk=pk)
    own = person.user_id == user.pk
    context = {"person": person, "back": reverse("me") if own else reverse("person", args=[pk])}
    if request.method != "POST":
        return render(request, "safety/calendar_ask.html", context | {"feed": person_feed(person)})
    if "end" in request.POST:
        here = After(back=reverse("person-calendar", args=[pk]), done=str(ENDED))
        return pressed(request, partial(feed_end, user=user, person=person, now=now), here)
    made = acting(feed_make, user=user, person=person, now=now)
    context |= {"made": made, "picture": picture_of(made.address)}
    return render(request, "safety/calendar_made.html", context, status=201)


@require_safe
@open_page
@sensitive_variables()
def feed(request: HttpRequest, code: str) -> HttpResponse:  # noqa: ARG001
    """The calendar itself, for programs that have no account here; 404 for any other address, whatever the cause."""
    now = timezone.now()
    opened = acting(feed_opened, code=code, now=now)
    if opened is None:
        raise Http404
    entries = acting(feed_refresh, feed=opened, now=now)
    answer = HttpResponse(feed_text(entries, _language(opened)), content_type="text/calendar; charset=utf-8")
    answer["Content-Disposition"] = 'inline; filename="dates.ics"'
    return unseen(answer)


def _language(feed: CalendarFeed) -> str:
    owner = feed.user or feed.person
    return owner.language if owner else ""
