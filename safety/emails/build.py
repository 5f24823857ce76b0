"""From a notice to a mail, in the reader's language."""

from __future__ import annotations

from datetime import date
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.template.loader import render_to_string
from django.utils import timezone, translation

from safety.emails.calendar import calendar_entry
from safety.emails.seen import seen_link
from safety.models import Notice
from safety.registry import kind_of


def build_mail(notice: Notice, today: date) -> EmailMessage:
    """The mail of a notice: one recipient, the Message-ID fixed with the row, text and HTML.

    `today` is the site's date at sending: a mail that was held up never calls yesterday "today". Raises UnknownKind.
    """
    kind = kind_of(notice)
    folder = f"safety/emails/{kind.template}"
    context: dict[str, Any] = {
        "notice": notice,
        "link": f"{settings.PUBLIC_URL}{notice.path}",
        "seen_link": seen_link(notice),
        "rows": _rows(notice) if notice.gathers else [],
        "days_ahead": (notice.when_on - today).days if notice.when_on else None,
    }
    if kind.context is not None:
        context |= kind.context(notice, today)
    with translation.override(notice.language), timezone.override(ZoneInfo(notice.zone)):
        subject = " ".join(render_to_string(f"{folder}/subject.txt", context).split())
        text = render_to_string(f"{folder}/body.txt", context)
        html = render_to_string(f"{folder}/body.html", context)
    mail = _headed(notice, subject)
    mail.set_content(text)
    mail.add_alternative(html, subtype="html")
    if notice.session is not None:
        entry = calendar_entry(notice)
        mail.add_attachment(
            entry.text, subtype="calendar", filename="date.ics", params={"method": entry.method}
        )
    return mail


def _headed(notice: Notice, subject: str) -> EmailMessage:
    mail = EmailMessage(policy=SMTP)
    mail["Message-ID"] = notice.message_id
    # Weeks may lie between the row and the mail; like the Message-ID, a later copy has the same.
    mail["Date"] = format_datetime(max(notice.created_at, notice.due_at))
    mail["From"] = settings.MAIL_FROM
    mail["To"] = notice.email
    mail["Subject"] = subject
    mail["Auto-Submitted"] = "auto-generated"
    return mail


def _rows(digest: Notice) -> list[dict[str, Any]]:
    """What a mail for several says of each: its reference, its date and its links.

    Before it leaves, what goes in it; afterwards what went in it.
    """
    state = Notice.State
    unsent = digest.state in (state.WAITING, state.CLAIMED)
    in_it = (state.GATHERED,) if unsent else (state.GATHERED, state.SENT, state.FAILED)
    members = digest.members.filter(state__in=in_it).order_by("when_on", "reference", "pk")
    return [
        {"notice": row, "link": f"{settings.PUBLIC_URL}{row.path}", "seen_link": seen_link(row)}
        for row in members
    ]
