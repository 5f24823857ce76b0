"""Reports that wait for a name: the list, one of them, and what an officer does with it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from safety.forms.case.case import ReasonForm
from safety.forms.phone.held import PlaceForm
from safety.models import PhoneMessage
from safety.pages.phone.sent_words import sent_lines
from safety.selectors.phone.phone import messages_held_for, messages_read_by
from safety.services.phone.held import held_place, held_set_aside, held_take
from safety.services.phone.opened import message_opened
from safety.services.phone.outcome import held_words
from staff.doors.form import Step, form_page
from staff.doors.page import OFFICER, page, signed_in
from staff.models import Site, User
from staff.selectors.access import OFFICER as OFFICER_ROLE
from staff.selectors.access import people_managed_by, sites_as
from staff.services.audit import audit_look, audit_write


@dataclass(frozen=True)
class HeldRow:
    """`readable`: its content may be opened by this officer; else it must be taken first."""

    message: PhoneMessage
    why: str
    readable: bool
    site: Site


@page(OFFICER)
def held_messages(request: HttpRequest) -> HttpResponse:
    user = signed_in(request)
    readable = set(messages_read_by(user).values_list("pk", flat=True))
    rows = [
        HeldRow(row, held_words(row.reason), row.pk in readable, _site_of(request, row))
        for row in messages_held_for(user)
    ]
    counts = [row for row in rows if row.message.kind == PhoneMessage.COUNT]
    reports = [row for row in rows if row not in counts]
    return render(request, "safety/held.html", {"reports": reports, "counts": counts})


@page(OFFICER)
def held_message(request: HttpRequest, key: UUID) -> HttpResponse:
    """The message as it was sent, without its link."""
    user, now = signed_in(request), timezone.now()
    message = get_object_or_404(messages_read_by(user), key=key)
    _note_look(user, message, now)
    site, names = _site_of(request, message), {person.pk: str(person) for person in people_managed_by(user)}
    return render(request, "safety/held_message.html", _opened(message, site, names))


def _note_look(user: User, message: PhoneMessage, now: datetime) -> None:
    target = f"message:{message.pk}"
    if message.link is not None:
        audit_look(viewer=user, person=message.link.person, now=now, target=target)
    else:
        audit_write(actor=user, action="phone-message.seen", now=now, target=target)


def _opened(message: PhoneMessage, site: Site, names: dict[int, str]) -> dict[str, Any]:
    sent = message_opened(message)
    return {
        "message": message,
        "site": site,
        "sent": sent,
        "said": list(sent_lines(sent.body, site.zone, names)) if sent else [],
        "why": held_words(message.reason),
        "open": message.state == PhoneMessage.State.HELD,
    }


def _of_a_report(message: PhoneMessage, words: str) -> tuple[str, ...]:
    """What is to be read before; a count of dogs tells of nobody."""
    return () if message.kind == PhoneMessage.COUNT else (words,)


def _site(request: HttpRequest) -> Site:
    return sites_as(signed_in(request), OFFICER_ROLE)[0]


def _site_of(request: HttpRequest, message: PhoneMessage) -> Site:
    """By whose clock it is shown: the sender's site, or else the reader's."""
    return message.link.person.site if message.link else _site(request)


@page(OFFICER)
def held_taking(request: HttpRequest, key: UUID) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    message = get_object_or_404(messages_held_for(user), key=key, link__isnull=True)
    return form_page(
        request,
        ReasonForm(request.POST or None),
        lambda said: held_take(actor=user, message=message, reason=said["reason"], now=now),
        _held_taking_step(request),
    )


def _held_taking_step(request: HttpRequest) -> Step:
    return Step(
        title=_("Take this report"),
        submit=_("Take it"),
        back=reverse("held-messages"),
        site=_site(request),
        done=_("The report waits for you now; open it below."),
        before=(_("It names no link. Once you take it you read it, and the other officers don't."),),
    )


@page(OFFICER)
def held_placing(request: HttpRequest, key: UUID) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    message = get_object_or_404(messages_read_by(user), key=key)
    initial = {"person": message.link.person if message.link else None}
    return form_page(
        request,
        PlaceForm(request.POST or None, people=people_managed_by(user), initial=initial),
        lambda said: held_place(actor=user, message=message, now=now, **said),
        _held_placing_step(request, message),
    )


def _held_placing_step(request: HttpRequest, message: PhoneMessage) -> Step:
    return Step(
        title=_("Say whose report this is"),
        submit=_("Place it"),
        back=reverse("held-messages"),
        site=_site(request),
        done=_("The report is placed; the person's case is open."),
        before=_of_a_report(
            message, _("Ask the person first. Whoever was exposed is held until a clinic visit is recorded.")
        ),
    )


@page(OFFICER)
def held_aside(request: HttpRequest, key: UUID) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    message = get_object_or_404(messages_read_by(user), key=key)
    return form_page(
        request,
        ReasonForm(request.POST or None),
        lambda said: held_set_aside(actor=user, message=message, reason=said["reason"], now=now),
        _held_aside_step(request, message),
    )


def _held_aside_step(request: HttpRequest, message: PhoneMessage) -> Step:
    return Step(
        title=_("Set this report aside"),
        submit=_("Set it aside"),
        back=reverse("held-messages"),
        site=_site(request),
        done=_("The report is set aside; it is kept with your reason."),
        before=_of_a_report(
            message, _("Only when nobody was hurt, or when everything in it stands in a case.")
        ),
    )
