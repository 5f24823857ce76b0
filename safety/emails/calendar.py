"""An invitation as a calendar entry (RFC 5545, RFC 5546, RFC 7986) that says nothing but when.

No place, no name and no word of what it is about: calendars are shared and shown on screens.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from email.utils import parseaddr

from django.conf import settings
from django.utils.translation import gettext as _
from icalendar import Calendar, Event, vCalAddress

from safety.models import Notice

# How long somebody keeps free; common practice, no source.
KEPT_FREE = timedelta(hours=1)


@dataclass(frozen=True)
class Entry:
    """The text of the file and its iTIP method, which the mail's part states too (RFC 6047, 2.4)."""

    text: str
    method: str


def calendar_entry(notice: Notice) -> Entry:
    """The entry of an invitation, or its cancellation: the same UID for one person and session, always."""
    session = notice.session
    if session is None:
        raise ValueError(f"notice {notice.pk} is about no session")
    off = notice.says == Notice.Says.OFF
    method = "CANCEL" if off else "REQUEST"
    start = datetime.combine(session.held_on, session.opens_at, session.site.zone).astimezone(UTC)
    event = Event()
    # RFC 7986, 5.3: a UUID, made of nothing that identifies somebody to those who can't compute it.
    event.add("uid", str(uuid.uuid5(session.key, str(notice.person_id))))
    event.add("dtstamp", notice.created_at)
    event.add("last-modified", notice.created_at)
    event.add("sequence", notice.sequence or 0)
    event.add("dtstart", start)
    event.add("dtend", start + KEPT_FREE)
    event.add("summary", _("Date %(reference)s") % {"reference": notice.reference})
    event.add("class", "PRIVATE")
    event.add("status", "CANCELLED" if off else "CONFIRMED")
    event.add("url", f"{settings.PUBLIC_URL}{notice.path}")
    event.add("organizer", vCalAddress(f"mailto:{parseaddr(settings.MAIL_FROM)[1]}"))
    attendee = vCalAddress(f"mailto:{notice.email}")
    attendee.params["RSVP"] = "FALSE"
    event.add("attendee", attendee)
    calendar = Calendar()
    calendar.add("prodid", "-//Three-Fifteen//EN")
    calendar.add("version", "2.0")
    calendar.add("method", method)
    calendar.add_component(event)
    return Entry(calendar.to_ical().decode(), method)
