"""What happened to one mail: its whole life, and sending it again."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.timesince import timesince
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache

from safety.emails.build import build_mail
from safety.forms.case.case import ReasonForm
from safety.models import Notice, NoticeEvent
from safety.pages.notices.outbox import notice_row
from safety.registry import find_kind
from safety.selectors.notices.notices import notice_before, notices_after, notices_visible_to
from safety.services.notices.resending import notice_send_again
from safety.words import state_label
from staff.doors.form import Step, form_page
from staff.doors.page import LIAISON, OFFICER, page, signed_in
from staff.models import User

State = Notice.State


@dataclass(frozen=True)
class EventLine:
    """One event: when by the site's clocks, how far from the due instant, what happened and why."""

    at: datetime
    apart: str
    words: str
    why: str


@dataclass(frozen=True)
class MailText:
    subject: str
    text: str


@never_cache
@page(OFFICER, LIAISON)
def notice(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    found = get_object_or_404(notices_visible_to(user), pk=pk)
    return render(request, "safety/notice.html", _life(user, found, now))


def _life(user: User, found: Notice, now: datetime) -> dict[str, Any]:
    events = list(found.events.all())
    return {
        "row": notice_row(found, now),
        "planned": planned_words(found),
        "written_at": found.created_at.astimezone(found.site.zone),
        "reader_due_at": found.due_at.astimezone(ZoneInfo(found.zone)),
        "events": [event_line(event, found) for event in events],
        "copies": sum(event.new == State.SENT for event in events),
        "before": notice_before(user, found),
        "after": [notice_row(one, now) for one in notices_after(user, found)],
        "mail": mail_text(found, now),
        "refused": found.state == State.FAILED,
        "site": found.site,
    }


@page(OFFICER, LIAISON)
def notice_again(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    found = get_object_or_404(notices_visible_to(user), pk=pk)
    return form_page(
        request,
        ReasonForm(request.POST or None),
        lambda said: notice_send_again(actor=user, notice=found, reason=said["reason"], now=now),
        _notice_again_step(pk, found),
    )


def _notice_again_step(pk: int, found: Notice) -> Step:
    return Step(
        title=_("Send notice %(reference)s again") % {"reference": found.reference},
        submit=_("Send it again"),
        back=reverse("notice", args=[pk]),
        done=_("The notice waits to be sent again, to the address on record now."),
        before=(_("Correct the address first: it was %(email)s.") % {"email": found.email},),
    )


def planned_words(notice: Notice) -> str:
    """Why the notice is there: how many days from the date it is about it was planned for."""
    if notice.when_on is None or notice.send_hour == 0:
        return _("Written as soon as it was known, to leave at once.")
    days = (notice.send_on - notice.when_on).days
    if days == 0:
        return _("Planned for the date it is about.")
    words = (
        ngettext(
            "Planned for %(n)d day before the date it is about.", "Planned for %(n)d days before it.", -days
        )
        if days < 0
        else ngettext(
            "Planned for %(n)d day after the date it is about.", "Planned for %(n)d days after it.", days
        )
    )
    return words % {"n": abs(days)}


def event_line(event: NoticeEvent, notice: Notice) -> EventLine:
    ahead = event.at < notice.due_at
    apart = timesince(event.at, notice.due_at) if ahead else timesince(notice.due_at, event.at)
    words = _("%(time)s before it was due") if ahead else _("%(time)s after it was due")
    at = event.at.astimezone(notice.site.zone)
    return EventLine(at, words % {"time": apart}, event_words(event.old, event.new), event.why)


def event_words(old: str, new: str) -> str:
    """One change of state as a sentence's beginning."""
    known = {
        (State.WAITING, State.CLAIMED): _("A worker took it to send it"),
        (State.CLAIMED, State.CLAIMED): _("Another worker took it over"),
        (State.CLAIMED, State.WAITING): _("It couldn't be sent and waits for another try"),
        (State.CLAIMED, State.SENT): _("The mail server took it"),
        (State.WAITING, State.SENT): _("The mail server had taken it"),
        (State.SENT, State.SENT): _("A second copy may have left"),
        (State.CLAIMED, State.FAILED): _("The mail server refused it for good"),
        (State.SENT, State.FAILED): _("It came back: refused for good"),
        (State.WITHDRAWN, State.WAITING): _("It was needed again"),
        (State.FAILED, State.WAITING): _("It was put back to be sent again"),
        (State.WAITING, State.GATHERED): _("It goes in one mail with others"),
        (State.CLAIMED, State.GATHERED): _("It goes in one mail with others"),
        (State.GATHERED, State.WAITING): _("It left that mail and goes alone"),
        (State.GATHERED, State.SENT): _("The mail server took it with the others"),
        (State.GATHERED, State.FAILED): _("The mail server refused it with the others"),
    }
    if new == NoticeEvent.SEEN:
        return _("Its reader said to have seen it")
    if new == State.WITHDRAWN:
        return _("It was withdrawn before it left")
    if (old, new) in known:
        return known[State(old), State(new)]
    if new not in State.values:
        return _("A mail server reported on it")
    return f"{state_label(old)} → {state_label(new)}"


_LINK = re.compile(r"https?://\S+")


def mail_text(notice: Notice, now: datetime) -> MailText | None:
    """The mail as it would read now; None for a kind nobody knows here, of which there is no mail.

    Links that act for the reader alone are left out.
    """
    if find_kind(notice.kind) is None:
        return None
    mail = build_mail(notice, notice.site.local_date(now))
    body = mail.get_body(("plain",))
    text = str(body.get_content()) if body else ""
    own = f"{settings.PUBLIC_URL}{notice.path}"
    hidden = _("[a link for the reader alone]")
    kept = _LINK.sub(lambda found: found[0] if found[0] == own else hidden, text)
    return MailText(str(mail["Subject"]), kept.strip())
