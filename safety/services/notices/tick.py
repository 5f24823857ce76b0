"""The tick: whatever was left undone is done again, and what is due goes out."""

from __future__ import annotations

from safety.services.course.plan import plans_catch_up
from safety.services.notices.notices import notices_reconcile
from safety.services.notices.sending import Clock, send_due
from safety.services.phone.tick import phones_catch_up
from safety.services.upkeep.heartbeats import heartbeat_note
from staff.services.record.recompute import recompute_catch_up

# Chunks of people a tick recomputes at most: reminders of a bite leave before them.
RECOMPUTED_A_TICK = 20


def tick(*, clock: Clock, beat: str = "send_due") -> int:
    """Everything the table asks for now: reports from phones that wait, plans that are behind, notices that are missing, mail that is due,
    people to recompute.

    A plan or a notice that can't be made is logged and never keeps the mail of the others from leaving.
    """
    heartbeat_note(name=beat, now=clock())
    phones_catch_up(now=clock())
    plans_catch_up(now=clock())
    notices_reconcile(now=clock())
    sent = send_due(clock=clock, beat=beat)
    recompute_catch_up(now=clock(), at_most=RECOMPUTED_A_TICK)
    return sent
