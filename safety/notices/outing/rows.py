"""How a notice about somebody's place on an outing is written."""

from __future__ import annotations

from datetime import date, datetime

from safety.models import Notice
from safety.notices.rows import new_notice
from safety.registry import NoticeKind
from safety.rules.notices.follow_up import Audience
from safety.rules.notices.references import Letter, reference
from safety.selectors.notices.recipients import Recipient
from staff.models import Outing


def place_notice(
    outing: Outing, kind: NoticeKind, reader: Recipient, on: date, now: datetime, **fields: object
) -> Notice:
    """Due at once. `fields`: its key, what it says, and what else it is about."""
    site = outing.site
    values: dict[str, object] = {"path": f"/outings/{outing.pk}/", **fields}
    return new_notice(
        kind=kind.name,
        site=site,
        reader=reader,
        send_on=site.local_date(now),
        hour=0,
        when_on=on,
        reference=reference(Letter.OUTING, outing.pk),
        audience=Audience.MEMBER if reader.person else Audience.OFFICER,
        now=now,
        outing=outing,
        **values,
    )
