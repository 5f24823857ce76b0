"""Reports that wait for a name: the list, and one of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from safety.models import PhoneMessage
from safety.pages.phone.sent_words import sent_lines
from safety.selectors.phone.phone import messages_held_for, messages_read_by
from safety.services.phone.opened import message_opened
from safety.services.phone.outcome import held_words
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


def officers_site(request: HttpRequest) -> Site:
    return sites_as(signed_in(request), OFFICER_ROLE)[0]


def _site_of(request: HttpRequest, message: PhoneMessage) -> Site:
    """By whose clock it is shown: the sender's site, or else the reader's."""
    return message.link.person.site if message.link else officers_site(request)
