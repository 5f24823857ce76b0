"""Taking in what mail servers report later about a mail they had taken."""

from __future__ import annotations

import logging
from datetime import datetime
from enum import StrEnum

from django.db import transaction

from safety.models import Notice, NoticeEvent
from safety.outbox.states import State
from safety.rules.notices.delivery_report import MOST_BYTES, Action, DeliveryReport, NotAReport, read_report
from safety.services.notices.undelivered import notice_bounced
from staff.ground.limits import shortened
from staff.ground.transactions import retried

logger = logging.getLogger(__name__)

# How the history of a notice names a report: no state of the notice, so that no report counts as a copy sent.
REPORTED = "reported"


# Of what the mail server said; the mark of the report follows it.
MOST_WORDS = 300


class Taken(StrEnum):
    """What became of one mail; the words are those of the command's answer."""

    FAILED = "refused for good"
    NOTED = "noted"
    REPEATED = "seen before"
    UNKNOWN = "about a mail that isn't ours"
    NOT_UNDERSTOOD = "not understood"
    TOO_BIG = "too big"


UNDERSTOOD = frozenset({Taken.FAILED, Taken.NOTED, Taken.REPEATED})


def bounce_take(*, content: bytes, now: datetime) -> Taken:
    """Take in one mail as it came; whatever stands in it, the answer says what became of it.

    A report "failed" about a notice that was sent moves it to refused for good and has the next contact told, in one
    transaction; every other report is an event of the notice alone. Raises only what the database raises.
    """
    if len(content) > MOST_BYTES:
        return Taken.TOO_BIG
    try:
        report = read_report(content)
    except NotAReport as reason:
        logger.info("A mail is no delivery report: %s", reason)
        return Taken.NOT_UNDERSTOOD
    except Exception:
        logger.exception("A mail that should be a delivery report can't be read")
        return Taken.NOT_UNDERSTOOD
    return _take(report, now)


@retried
def _take(report: DeliveryReport, now: datetime) -> Taken:
    with transaction.atomic():
        notice = (
            Notice.objects.select_for_update(of=("self",), no_key=True)
            .select_related("site__rules", "incident")
            .filter(message_id=report.message_id)
            .first()
        )
        if notice is None:
            return Taken.UNKNOWN
        ending, said = f" [{report.mark}]", shortened(report.words, MOST_WORDS)
        if notice.events.filter(why__endswith=ending).exists():
            return Taken.REPEATED
        if report.action == Action.FAILED and notice.state == State.SENT:
            notice_bounced(notice=notice, why=f"bounced: {said}{ending}", now=now)
            logger.warning("Notice %s was refused after it was taken: %s", notice.pk, said)
            return Taken.FAILED
        why = f"{report.action}: {said}{ending}"
        NoticeEvent.objects.create(notice=notice, at=now, old=notice.state, new=REPORTED, why=why)
        return Taken.NOTED
