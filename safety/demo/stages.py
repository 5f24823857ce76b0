"""Six cases at different stages, as they are told; safety.demo.cases lives them through the services."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime

from safety.models import Answer
from safety.services.case.incident_facts import IncidentReport, WoundReport


@dataclass(frozen=True)
class Stage:
    """A case that began `days_ago`; `given` are the days after the first dose on which doses were given.

    Whether the person is immunised decides the course and, for who isn't, immunoglobulin and so the clinic.
    """

    days_ago: int
    report: IncidentReport
    referred: bool = True
    seen: bool = True
    immunised: bool = True
    given: tuple[int, ...] = ()
    closed: str = ""
    watched: bool = False


_NEVER = datetime(1970, 1, 1, tzinfo=UTC)  # replaced by the instant of each case


_BITE = IncidentReport(
    kind="bite",
    happened_at=_NEVER,
    wounds=(WoundReport("bitten", "hand", Answer.YES, Answer.YES),),
    animal="dog-roaming",
    task="collaring",
    causes=("hand-near-mouth",),
    washed_minutes=15,
    soap=Answer.YES,
    narrative="The collar slipped and the dog turned.",
)


STAGES = (
    # Reported this morning: washed too briefly, no clinic yet, so the person is held.
    Stage(
        0,
        replace(_BITE, washed_minutes=6, task="netting", causes=("head-out-of-net",)),
        referred=False,
        seen=False,
    ),
    # A course that runs to time: a dose is due tomorrow.
    Stage(2, _BITE, given=(0,)),
    # A dose is due today: the reminder is in the mailbox. The dog is watched; today's check is still to come.
    Stage(3, replace(_BITE, causes=("bare-hands",), animal="dog-owned"), given=(0,), watched=True),
    # New and on no crew yet: the full course, and its day-7 dose is overdue. Person, liaison and officer are told
    # every day.
    Stage(
        10,
        replace(
            _BITE,
            task="other",
            causes=("owner-lost-hold",),
            animal="dog-owned",
            narrative="A neighbour's dog ran up to the gate of the base and bit.",
        ),
        immunised=False,
        given=(0, 3),
    ),
    # A scratch of an immunised person: the short course is done, the case closed.
    Stage(
        20,
        replace(
            _BITE,
            kind="scratch",
            wounds=(WoundReport("scratched", "arm", Answer.NO, Answer.NO),),
            task="releasing",
            causes=("rough-handling",),
        ),
        given=(0, 3),
        closed="Both doses given; gloves are now checked before leaving.",
    ),
    # A near miss: nothing for the clinic, something to learn.
    Stage(
        5,
        replace(
            _BITE,
            kind="near-miss",
            wounds=(WoundReport("none", "unknown", Answer.NO, Answer.NO),),
            task="approaching",
            causes=("distracted",),
            washed_minutes=None,
            soap=Answer.UNKNOWN,
            narrative="A second dog came from behind while the net was out.",
        ),
        referred=False,
        seen=False,
    ),
)
