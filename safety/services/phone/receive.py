"""Messages from phones: stored before anything is asked of them, opened, placed or held, and answered the same each time."""

from __future__ import annotations

import logging
import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import IntegrityError, OperationalError, transaction
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_variables

from safety.errors import KeyReused, TooMany
from safety.models import Incident, PhoneMessage
from safety.services.phone.keys import seal_open
from safety.services.phone.links import LinkState, link_check, link_used
from safety.services.phone.opened import message_kind, message_opened
from safety.services.phone.outcome import (
    COUNT_UNREADABLE,
    ENDED_LINK,
    FAILED,
    LOCKED_LINK,
    NO_LINK,
    NO_REPORT,
    UNKNOWN_LINK,
    UNREADABLE,
    Outcome,
    State,
    held,
)
from safety.services.phone.place import message_place
from safety.services.phone.reading import HANDLED, Sent
from safety.services.phone.sender import Sender
from staff.bell import ring
from staff.ground.transactions import Crossed, retried
from staff.services.site.guesses import Limit, guess_take, seconds_left

logger = logging.getLogger(__name__)

# What comes without a link's secret is capped over the whole service; the phone keeps the rest and tries again.
UNPLACED = Limit(tries=200, window=timedelta(hours=1))
UNPLACED_KEY = "phone-unplaced"
# A link that somebody else's guesses have locked is asked again by the tick, for so long.
ASKED_AGAIN_FOR = timedelta(hours=1)
WAITS_FOR_ITS_REPORT = timedelta(days=1)
SWEPT_AT_ONCE = 200


@dataclass(frozen=True)
class Received:
    """`reference` is empty while the message waits or is held."""

    message: PhoneMessage
    reference: str | None


def message_receive(*, key: uuid.UUID, key_id: str, sealed: str, now: datetime) -> Received:
    """Take one sealed message. The same key again answers the same; with another text it raises `KeyReused`.

    Raises `TooMany` for one message too many without a link's secret; that one isn't kept here, and the phone
    keeps it.
    """
    message, fresh = _store(key, key_id, sealed, now)
    message = message_settle(pk=message.pk, now=now)
    if fresh and not message.proven:
        _cap(message, now)
    reference = None
    if message.state == State.PLACED and message.incident_id:
        reference = Incident.objects.values_list("reference", flat=True).get(pk=message.incident_id)
    return Received(message, reference)


def _store(key: uuid.UUID, key_id: str, sealed: str, now: datetime) -> tuple[PhoneMessage, bool]:
    known = PhoneMessage.objects.filter(key=key).first()
    if known is None:
        try:
            with transaction.atomic():
                made = PhoneMessage.objects.create(key=key, key_id=key_id, sealed=sealed, received_at=now)
            return made, True
        except IntegrityError:
            # Sent twice at once: the other one made the row.
            known = PhoneMessage.objects.get(key=key)
    return _same(known, key_id, sealed), False


@sensitive_variables("again", "first")
def _same(known: PhoneMessage, key_id: str, sealed: str) -> PhoneMessage:
    if (known.key_id, known.sealed) == (key_id, sealed):
        return known
    # Sealed anew, to another key perhaps: what counts is the text inside.
    again = seal_open(key_id=key_id, sealed=sealed, key=known.key)
    first = seal_open(key_id=known.key_id, sealed=known.sealed, key=known.key)
    if again is None or (first is not None and again != first):
        raise KeyReused(
            _("A different message was sent under this key before; send this one under a new key.")
        )
    if first is None:
        # What came first could never be opened; now it can be.
        PhoneMessage.objects.filter(pk=known.pk, state=State.HELD).update(
            key_id=key_id, sealed=sealed, state=State.RECEIVED, reason=""
        )
    return known


def _cap(message: PhoneMessage, now: datetime) -> None:
    if guess_take(key=UNPLACED_KEY, now=now, limit=UNPLACED):
        return
    PhoneMessage.objects.filter(pk=message.pk, proven=False).delete()
    raise TooMany(
        _("Too many reports without a valid link have come in. Keep this one and send it again later."),
        retry_after=seconds_left(key=UNPLACED_KEY, now=now, limit=UNPLACED),
    )


@retried
@sensitive_variables("sent")
def message_settle(*, pk: int, now: datetime) -> PhoneMessage:
    """Place a message that waits, under its lock, so that of twenty copies one does it and the others read the end."""
    with transaction.atomic():
        message = PhoneMessage.objects.select_for_update(of=("self",)).get(pk=pk)
        if message.state not in (State.RECEIVED, State.WAITING):
            return message
        sent = message_opened(message)
        if sent is None:
            message.kind = message_kind(message)
            outcome = held(COUNT_UNREADABLE if message.kind == HANDLED else UNREADABLE)
        else:
            message.kind, message.about, message.made_at = sent.kind, sent.about, sent.made_at
            outcome = _judge(message, sent, now)
        _note(message, outcome, now)
        if message.state == State.PLACED and message.incident_id and message.kind != "wash":
            _place_waiting(message, now)
    if message.proven and message.link is not None:
        link_used(link=message.link, now=now)
    return message


def _judge(message: PhoneMessage, sent: Sent, now: datetime) -> Outcome:
    sender = _sender(message, sent, now)
    if isinstance(sender, Outcome):
        return sender
    try:
        with transaction.atomic():
            outcome = message_place(sent=sent, sender=sender, now=now)
    except (OperationalError, Crossed):
        raise
    except Exception:
        # One bad message never stops the line, and is never lost: an officer finds it.
        logger.exception("Phone message %s could not be placed", message.pk)
        return held(FAILED)
    if sender.link is not None and sender.link.ended_at is not None and outcome.state == State.PLACED:
        return Outcome(outcome.state, f"{ENDED_LINK} {outcome.reason}".strip(), outcome.incident)
    return outcome


def _sender(message: PhoneMessage, sent: Sent, now: datetime) -> Sender | Outcome:
    if message.proven and message.link is not None:
        return Sender(person=message.link.person, link=message.link)
    if not sent.link:
        return held(NO_LINK)
    check = link_check(code=sent.link, now=now)
    message.link, message.proven = check.link, check.proven
    if check.state is LinkState.LOCKED:
        late = now - message.received_at > ASKED_AGAIN_FOR
        return Outcome(State.HELD if late else State.RECEIVED, LOCKED_LINK)
    if not check.proven or check.link is None:
        return held(UNKNOWN_LINK)
    return Sender(person=check.link.person, link=check.link)


def _note(message: PhoneMessage, outcome: Outcome, now: datetime) -> None:
    message.state, message.reason, message.incident = outcome.state, outcome.reason, outcome.incident
    message.settled_at = now if outcome.state == State.PLACED else None
    # One that was read again and waits still has been told of already.
    message.held_at = (message.held_at or now) if outcome.state == State.HELD else None
    message.save()
    if outcome.state == State.HELD:
        ring("safety.tick")


def _place_waiting(message: PhoneMessage, now: datetime) -> None:
    """Washing that arrived before its report."""
    waiting = PhoneMessage.objects.filter(about=message.about, state=State.WAITING).order_by("made_at", "pk")
    for pk in waiting.values_list("pk", flat=True):
        message_settle(pk=pk, now=now)


def messages_sweep(*, now: datetime) -> None:
    """What every tick does: place what a process died over or a lock kept back, and hold what waited too long."""
    stuck = PhoneMessage.objects.filter(
        state=State.RECEIVED, received_at__lt=now - timedelta(minutes=1)
    ).values_list("pk", flat=True)
    arrived = PhoneMessage.objects.filter(
        state=State.WAITING, about__in=Incident.objects.values("key")
    ).values_list("pk", flat=True)
    for pk in [*stuck[:SWEPT_AT_ONCE], *arrived[:SWEPT_AT_ONCE]]:
        try:
            message_settle(pk=pk, now=now)
        except Exception:
            logger.exception("Phone message %s can't be settled; it is tried again at the next tick", pk)
    PhoneMessage.objects.filter(state=State.WAITING, received_at__lt=now - WAITS_FOR_ITS_REPORT).update(
        state=State.HELD, reason=NO_REPORT, held_at=now
    )
