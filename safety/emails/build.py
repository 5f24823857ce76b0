"""From a notice to a mail, in the reader's language."""

from __future__ import annotations

from datetime import date
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string
from django.utils import translation

from safety.emails.calendar import INVITATION, INVITATION_OFF, calendar_entry
from safety.models import Notice

# One folder of templates a kind; several kinds may share one.
TEMPLATES = {
    "roster-change": "roster_change",
    "undelivered": "undelivered",
    "new-report": "new_report",
    "held-report": "new_report",
    "animal-word": "new_report",
    INVITATION: "invitation",
    INVITATION_OFF: "invitation",
}


def build_mail(notice: Notice, today: date) -> EmailMessage:
    """The mail of a notice: one recipient, the Message-ID fixed with the row, text and HTML.

    `today` is the site's date at sending: a mail that was held up never calls yesterday "today".
    """
    folder = f"safety/emails/{TEMPLATES.get(notice.kind, 'dose')}"
    context: dict[str, Any] = {
        "notice": notice,
        "link": f"{settings.PUBLIC_URL}{notice.path}",
        "called_off": notice.kind == INVITATION_OFF,
        "days_ahead": (notice.when_on - today).days if notice.when_on else None,
    }
    with translation.override(notice.language):
        subject = " ".join(render_to_string(f"{folder}/subject.txt", context).split())
        text = render_to_string(f"{folder}/body.txt", context)
        html = render_to_string(f"{folder}/body.html", context)
    mail = EmailMessage(policy=SMTP)
    mail["Message-ID"] = notice.message_id
    # Weeks may lie between the row and the mail; like the Message-ID, a later copy has the same.
    mail["Date"] = format_datetime(max(notice.created_at, notice.due_at))
    mail["From"] = settings.MAIL_FROM
    mail["To"] = notice.email
    mail["Subject"] = subject
    mail["Auto-Submitted"] = "auto-generated"
    mail.set_content(text)
    mail.add_alternative(html, subtype="html")
    if notice.session is not None:
        entry = calendar_entry(notice)
        mail.add_attachment(
            entry.text, subtype="calendar", filename="date.ics", params={"method": entry.method}
        )
    return mail
