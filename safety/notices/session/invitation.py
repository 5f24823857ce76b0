"""Invitations to vaccination sessions: one calendar entry a person and session, called off when it no longer holds."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from safety.models import Notice
from safety.notices.rows import by_key, new_notice
from safety.registry import Counted, NoticeKind, Origin
from safety.rules.notices.follow_up import Audience
from safety.rules.notices.references import Letter, reference
from safety.selectors.notices.recipients import Recipient, member
from staff.models import Session, SessionPlace

_OUTCOME = SessionPlace.Outcome
State = Notice.State


@dataclass(frozen=True)
class Place:
    """Somebody's place at a session and what was written about it, the first written first."""

    place: SessionPlace
    told: Sequence[Notice] = field(default_factory=tuple)

    @property
    def pk(self) -> int:
        return self.place.pk


def _subjects(now: datetime) -> Iterator[Place]:
    """Those of coming sessions. Two queries, whatever the number of people."""
    # A day back: somewhere it is still yesterday by UTC.
    coming = SessionPlace.objects.filter(session__held_on__gte=now.date() - timedelta(days=1))
    told: dict[tuple[int | None, int | None], list[Notice]] = {}
    rows = Notice.objects.filter(session__places__in=coming)
    for row in rows.distinct().order_by("pk"):
        told.setdefault((row.session_id, row.person_id), []).append(row)
    places = coming.select_related("session__site__rules", "person__user").order_by("session", "person")
    for place in places:
        subject = Place(place, told.get((place.session_id, place.person_id), ()))
        if subject.told or expected(place, now):
            yield subject


def _subject_of(notice: Notice) -> Place | None:
    place = (
        SessionPlace.objects.filter(session=notice.session_id, person=notice.person_id)
        .select_related("session__site__rules", "person__user")
        .first()
    )
    told = Notice.objects.filter(session=notice.session_id, person=notice.person_id).order_by("pk")
    return None if place is None else Place(place, tuple(told))


def expected(place: SessionPlace, now: datetime) -> bool:
    session = place.session
    return (
        place.outcome == _OUTCOME.EXPECTED
        and session.state == Session.State.PLANNED
        and session.held_on >= session.site.local_date(now)
    )


def _fell_away(place: SessionPlace) -> bool:
    """Called off or moved elsewhere; a session that was held, or a day that went by, calls nothing off."""
    return place.session.state == Session.State.CANCELLED or place.outcome == _OUTCOME.MOVED


def starts_at(session: Session) -> datetime:
    return datetime.combine(session.held_on, session.opens_at, session.site.zone).astimezone(UTC)


def _wanted(subject: Place, now: datetime) -> dict[str, Notice]:
    """The invitation that says when and where the person is expected; after one that doesn't hold, the word that it
    is off."""
    place = subject.place
    readers = member(place.person) if expected(place, now) else []
    # What never left needs no calling off: it is withdrawn.
    count = [
        row
        for row in subject.told
        if row.state != State.WITHDRAWN
        and not (row.state == State.WAITING and not _holds(row, place, readers))
    ]
    last = count[-1] if count else None
    invited = last if last is not None and last.says == Notice.Says.ON else None
    if invited is not None and _holds(invited, place, readers):
        return by_key(row for row in count if _holds(row, place, readers))
    sequence = _next_sequence(subject)
    if readers:
        return by_key(_row(place, INVITATION, reader, sequence, now) for reader in readers)
    if invited is not None and _fell_away(place):
        reader = Recipient(invited.email, invited.language, person=place.person)
        return by_key([_row(place, INVITATION_OFF, reader, sequence, now)])
    return by_key(row for row in count if row.says == Notice.Says.OFF)


def _holds(row: Notice, place: SessionPlace, readers: Sequence[Recipient]) -> bool:
    """Whether what it says is so: expected then, at that address; or that nobody is expected."""
    if row.says == Notice.Says.OFF:
        return not readers
    begins = starts_at(place.session)
    return row.starts_at == begins and any(row.email == reader.email for reader in readers)


def _next_sequence(subject: Place) -> int:
    """RFC 5545, 3.8.7.4: grows with each entry made for this reader, whatever the session's own count is."""
    return max([subject.place.session.sequence, *(1 + (row.sequence or 0) for row in subject.told)])


def _standing(subject: Place, _now: datetime) -> QuerySet[Notice]:
    waiting = [row.pk for row in subject.told if row.state == State.WAITING]
    return Notice.objects.filter(pk__in=waiting)


def _key(place: SessionPlace, kind: NoticeKind, reader: Recipient, sequence: int) -> str:
    session = place.session
    said = f"{session.held_on} {session.opens_at} {session.site.time_zone} {reader.email}"
    digest = hashlib.sha256(said.encode()).hexdigest()[:24]
    return f"session-{session.pk}:{place.person_id}:{kind.name}:{digest}:{sequence}"


def _row(place: SessionPlace, kind: NoticeKind, reader: Recipient, sequence: int, now: datetime) -> Notice:
    session = place.session
    return new_notice(
        key=_key(place, kind, reader, sequence),
        kind=kind.name,
        site=session.site,
        reader=reader,
        send_on=session.site.local_date(now),
        hour=0,
        when_on=session.held_on,
        starts_at=starts_at(session),
        says=Notice.Says.ON if kind is INVITATION else Notice.Says.OFF,
        reference=reference(Letter.SESSION, session.pk),
        path="/me/",
        audience=Audience.MEMBER,
        now=now,
        session=session,
        sequence=sequence,
    )


def _called_off(notice: Notice, _today: date) -> dict[str, Any]:
    return {"called_off": notice.says == Notice.Says.OFF}


INVITATIONS = Origin(
    name="invitations to sessions",
    subjects=_subjects,
    subject_of=_subject_of,
    wanted=_wanted,
    standing=_standing,
)
INVITATION = NoticeKind(
    name="invitation",
    word=_("invited to a session"),
    template="invitation",
    origin=INVITATIONS,
    asks=None,
    may_share=False,
    counted_as=Counted.ALONE,
    context=_called_off,
)
INVITATION_OFF = NoticeKind(
    name="invitation-off",
    word=_("no longer invited to a session"),
    template="invitation",
    origin=INVITATIONS,
    asks=None,
    may_share=False,
    counted_as=Counted.ALONE,
    context=_called_off,
)
KINDS = (INVITATION, INVITATION_OFF)
