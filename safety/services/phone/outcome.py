"""What became of a message, and the codes of why."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from safety.models import Incident, PhoneMessage

State = PhoneMessage.State

# Held until an officer has looked.
UNREADABLE = "unreadable"
COUNT_UNREADABLE = "count-unreadable"
NO_LINK = "no-link"
UNKNOWN_LINK = "unknown-link"
LOCKED_LINK = "locked-link"
NOT_ON_CREW = "not-on-crew"
NOT_YOURS = "not-yours"
SECOND_REPORT = "second-report"
NO_REPORT = "no-report"
FAILED = "failed"
# Placed, and yet there is something to ask.
ENDED_LINK = "ended-link"
PARTLY_UNREAD = "partly-unread"
OVERTAKEN = "overtaken"

_WORDS = {
    UNREADABLE: _("It can't be opened or read here: ask who may have sent it."),
    COUNT_UNREADABLE: _(
        "It is a count of dogs and can't be read: ask who sent it for the numbers, and put them into the crew's return."
    ),
    NO_LINK: _("It came without a card code."),
    UNKNOWN_LINK: _("Its card code isn't valid."),
    LOCKED_LINK: _("Its card code was locked by too many tries, so it wasn't compared."),
    NOT_ON_CREW: _("It is about somebody the sender doesn't lead."),
    NOT_YOURS: _("It is about a case somebody else reported."),
    SECOND_REPORT: _(
        "It differs from the report that stands in the case: add to the case what is missing, then set it aside."
    ),
    NO_REPORT: _("It tells of washing, and no report came within a day."),
    FAILED: _("It could not be placed because of a fault on our side, which was logged."),
    ENDED_LINK: _("It was sent with an ended link: ask the person."),
    PARTLY_UNREAD: _("A part of it couldn't be read or denied what happened: look at it as it was sent."),
    OVERTAKEN: _("An earlier draft came after the report and changed nothing but washing that was missing."),
}


def held_words(reason: str) -> str:
    """Why a message is held, or what is to be asked about it, as sentences."""
    return " ".join(str(_WORDS[code]) for code in reason.split() if code in _WORDS)


@dataclass(frozen=True)
class Outcome:
    state: str
    reason: str = ""
    incident: Incident | None = None


def held(reason: str, incident: Incident | None = None) -> Outcome:
    return Outcome(State.HELD, reason, incident)


def placed(incident: Incident | None, faults: Iterable[str] = (), reason: str = "") -> Outcome:
    codes = [reason, PARTLY_UNREAD if list(faults) else ""]
    return Outcome(State.PLACED, " ".join(code for code in codes if code), incident)
