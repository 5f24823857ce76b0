"""A mail that was refused for good, at once or by coming back: the next contacts are told of it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.utils.translation import gettext_lazy as _

from safety.models import Notice
from safety.notices.rows import Told, by_key, new_notice
from safety.registry import Counted, NoticeKind, Origin
from safety.rules.notices.levels import Level, level_of
from safety.selectors.notices.recipients import Recipient, everybody_of
from safety.selectors.notices.unanswered import readers_at


def _subjects(_now: datetime) -> Iterable[Told[Notice | None]]:
    """None: they are written in the transaction that ends the refused one (safety.services.notices.undelivered)."""
    return ()


def _wanted(told: Told[Notice | None], now: datetime) -> dict[str, Notice]:
    """Once for each refusal; what was written stands, for that refusal stays so.

    A refused mail of this kind starts no further one: each of them gets it.
    """
    if told.row is not None:
        return {told.row.key: told.row}
    refused = told.subject
    if refused is None or refused.kind == UNDELIVERED.name:
        return {}
    return by_key(_row(refused, reader, level, now) for level, reader in _readers(refused, now))


def _readers(notice: Notice, now: datetime) -> list[tuple[Level, Recipient]]:
    """The officers; of a member's mail the liaisons too; with no other officer, the further contact and whoever is left."""
    member = level_of(notice.audience) == Level.MEMBER
    found: dict[str, tuple[Level, Recipient]] = {}
    for level in (Level.OFFICER, *((Level.LIAISON,) if member else ())):
        _add_others(found, notice, level, readers_at(notice.site, level, now))
    if not found:
        _add_others(found, notice, Level.FURTHER, readers_at(notice.site, Level.FURTHER, now))
        _add_others(found, notice, Level.OFFICER, everybody_of(notice.site))
    return list(found.values())


def _add_others(
    found: dict[str, tuple[Level, Recipient]], notice: Notice, level: Level, readers: list[Recipient]
) -> None:
    for reader in readers:
        if reader.email.casefold() != notice.email.casefold():
            found.setdefault(reader.email.casefold(), (level, reader))


def _row(notice: Notice, reader: Recipient, level: Level, now: datetime) -> Notice:
    refusals = notice.events.filter(new=Notice.State.FAILED).count()
    return new_notice(
        # Refused again after it was sent again, it is told again.
        key=f"undelivered-{notice.pk}:{reader.tag}{f':{refusals}' if refusals > 1 else ''}",
        kind=UNDELIVERED.name,
        site=notice.site,
        reader=reader,
        send_on=notice.site.local_date(now),
        hour=0,
        when_on=notice.when_on,
        reference=notice.reference,
        # Of several in one mail each is named in the list of what was refused.
        path="/notices/?state=failed" if notice.gathers else notice.path,
        audience=level,
        now=now,
        incident=notice.incident,
        refused=notice,
    )


REFUSALS = Origin(
    name="notices of what was refused",
    subjects=_subjects,
    subject_of=lambda notice: Told(notice.refused, notice),
    wanted=_wanted,
    standing=None,
)
UNDELIVERED = NoticeKind(
    name="undelivered",
    word=_("a notice could not be delivered"),
    template="undelivered",
    origin=REFUSALS,
    asks=None,
    may_share=False,
    counted_as=Counted.ALONE,
)
KINDS = (UNDELIVERED,)
