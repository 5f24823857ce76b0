"""What became of a message, and the codes of why."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from safety.models import Incident, PhoneMessage

State = PhoneMessage.State

# Held until an officer has looked.
UNREADABLE = "unreadable"
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
