"""A reader's word that a notice was seen: it is written down and changes nothing else."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from safety.models import Notice, NoticeEvent
from safety.outbox.states import State
from staff.ground.transactions import retried


@retried
def notice_acknowledge(*, notice: Notice, now: datetime) -> bool:
    """Keep the first word; False when there is one already or the notice was withdrawn and needs none."""
    with transaction.atomic():
        changed = (
            Notice.objects.filter(pk=notice.pk, acknowledged_at__isnull=True)
            .exclude(state=State.WITHDRAWN)
            .update(acknowledged_at=now)
        )
        if changed != 1:
            return False
        NoticeEvent.objects.create(
            notice=notice, at=now, old=notice.state, new=NoticeEvent.SEEN, why="by the link of the mail"
        )
    notice.acknowledged_at = now
    return True
