"""Invitations to vaccination sessions: one calendar entry a person and session, called off when it no longer holds."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db import transaction

from safety.emails.calendar import INVITATION, INVITATION_OFF
from safety.models import Notice
from safety.outbox.states import State, move
from safety.rules.follow_up import Audience
from safety.selectors.recipients import Recipient, member
from safety.services.notice_rows import add_notices, new_notice
from staff.models import Session, SessionPlace
from staff.services.transactions import retried

KINDS = (INVITATION, INVITATION_OFF)


@retried
def invitations_reconcile(*, now: datetime) -> None:
    """Invite who is expected at a coming session and isn't invited yet; call off what no longer holds.

    What hasn't left is withdrawn instead. Repeating changes nothing. Two queries, whatever the number of people.
    """
    # A day back: somewhere it is still yesterday by UTC.
    coming = SessionPlace.objects.filter(session__held_on__gte=now.date() - timedelta(days=1))
    places = coming.select_related("session__site__rules", "person__user").order_by("session", "person")
    with transaction.atomic():
        told: dict[tuple[int, int], list[Notice]] = {}
        for row in (
            Notice.objects.filter(session__places__in=coming, kind__in=KINDS).distinct().order_by("pk")
        ):
            told.setdefault((row.session_id or 0, row.person_id or 0), []).append(row)
        new: list[Notice] = []
        for place in places:
            new += _bring_up(place, told.get((place.session_id, place.person_id), []), now)
        add_notices(new)


def _bring_up(place: SessionPlace, told: Iterable[Notice], now: datetime) -> list[Notice]:
    """The notices this place still lacks; those that wait in vain are withdrawn."""
    told = list(told)
    readers = member(place.person) if expected(place, now) else []
    wanted = {_key(place, INVITATION, reader): reader for reader in readers}
    for row in told:
        if row.state == State.WAITING and row.kind == INVITATION and not _is_of(row, wanted):
            move(row, State.WITHDRAWN, now=now, why="no longer needed", settled_at=now)
    last = next((row for row in reversed(told) if row.state != State.WITHDRAWN), None)
    invited = last if last is not None and last.kind == INVITATION else None
    # RFC 5545, 3.8.7.4: grows with each entry made for this reader, whatever the session's own count is.
    sequence = max([place.session.sequence, *(1 + (row.sequence or 0) for row in told)])
    if invited is not None and _is_of(invited, wanted):
        return []
    if wanted:
        return [_invitation(place, INVITATION, key, reader, sequence, now) for key, reader in wanted.items()]
    if invited is None or not _fell_away(place):
        return []
    reader = Recipient(invited.email, invited.language, person=place.person)
    return [_invitation(place, INVITATION_OFF, _key(place, INVITATION_OFF, reader), reader, sequence, now)]


_OUTCOME = SessionPlace.Outcome


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


def _is_of(row: Notice, wanted: Iterable[str]) -> bool:
    return any(row.key.startswith(f"{key}:") for key in wanted)


def _key(place: SessionPlace, kind: str, reader: Recipient) -> str:
    """What an invitation is about; the sequence is appended, so that a later one of the same content can be."""
    session = place.session
    said = f"{session.held_on} {session.opens_at} {session.site.time_zone} {reader.email}"
    digest = hashlib.sha256(said.encode()).hexdigest()[:24]
    return f"session-{session.pk}:{place.person_id}:{kind}:{digest}"


def _invitation(
    place: SessionPlace, kind: str, key: str, reader: Recipient, sequence: int, now: datetime
) -> Notice:
    session = place.session
    return new_notice(
        key=f"{key}:{sequence}",
        kind=kind,
        site=session.site,
        reader=reader,
        send_on=session.site.local_date(now),
        hour=0,
        when_on=session.held_on,
        reference=f"V{session.pk}",
        path="/me/",
        audience=Audience.MEMBER,
        now=now,
        session=session,
        sequence=sequence,
    )


def invitation_still_true(notice: Notice, now: datetime) -> bool:
    """Asked at the moment of sending: is the person still expected, at that time and that address?"""
    place = (
        SessionPlace.objects.filter(session=notice.session_id, person=notice.person_id)
        .select_related("session__site", "person__user")
        .first()
    )
    holds = place is not None and expected(place, now)
    if notice.kind == INVITATION_OFF:
        return not holds
    return (
        holds
        and place is not None
        and _is_of(notice, [_key(place, INVITATION, reader) for reader in member(place.person)])
    )
