"""Notices that ask to be seen and that nobody has said to have seen, and whose turn it is then."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import BooleanField, QuerySet
from django.db.models.expressions import RawSQL

from safety.models import Notice
from safety.registry import asks, find_kind
from safety.rules.notices.levels import Level, level_of, levels_after
from safety.selectors.notices.recipients import Recipient, clinic_side, holders
from staff.models import Site, SiteRole

# The longest a site waits for a word, and a day for a service that was away; what is older has been told anew.
LOOK_BACK = timedelta(days=2)
# As the partial index has it; see safety.outbox.claims. The table is named for the joins.
_UNSEEN = RawSQL(
    "safety_notice.state = 'sent' AND safety_notice.acknowledged_at IS NULL", (), output_field=BooleanField()
)
# What, of which day and for whom: one word of any of them is enough.
Thing = tuple[int | None, int | None, int | None, str, date, str]


@dataclass(frozen=True)
class Unanswered:
    """Notices to one audience about one thing; `rows` are those whose time is up, the first sent first."""

    rows: tuple[Notice, ...]

    @property
    def first(self) -> Notice:
        return self.rows[0]

    @property
    def level(self) -> Level:
        return level_of(self.first.audience)

    @property
    def passed_on(self) -> bool:
        return any(row.passed_on.all() for row in self.rows)

    def stands(self) -> bool:
        return not seen_by_any(self.first) and matter_stands(self.first)


def root_of(notice: Notice) -> Notice:
    """The notice at the beginning: of one that passes another on, the one nobody answered first."""
    while notice.about is not None:
        notice = notice.about
    return notice


def matter_stands(notice: Notice) -> bool:
    """Whether what a notice, perhaps of days ago, was about is still open."""
    first = root_of(notice)
    kind = find_kind(first.kind)
    # Whatever can't say that it is settled goes on to the next contact.
    return kind is None or kind.asks is None or kind.asks(first)


def thing_of(notice: Notice) -> Thing:
    first = root_of(notice)
    return (
        first.incident_id,
        first.course_id,
        first.step,
        what_of(first),
        first.send_on,
        notice.audience,
    )


def what_of(notice: Notice) -> str:
    """The kind of what is told once a day; of reports and words about animals, of which a day may bring several, which
    one it is."""
    first = root_of(notice)
    return first.matter or first.kind


def unanswered_now(site: Site, now: datetime) -> list[Unanswered]:
    """What of a site was sent longer ago than its hours allow and nobody has seen, though it still stands."""
    return [each for each in time_is_up(now, site) if each.stands()]


def time_is_up(now: datetime, site: Site | None = None) -> list[Unanswered]:
    """Notices whose own reader hasn't answered within the site's hours; whether that matters `stands` says."""
    rows = (
        Notice.objects.filter(_UNSEEN, settled_at__gt=now - LOOK_BACK, settled_at__lte=now)
        .select_related("site__rules", "course", "about__about__about")
        .prefetch_related("passed_on")
        .order_by("settled_at", "pk")
    )
    groups: dict[Thing, list[Notice]] = {}
    for row in rows.filter(site=site) if site else rows:
        if asks(row.kind) and row.settled_at and now - row.settled_at >= _patience(row.site):
            groups.setdefault(thing_of(row), []).append(row)
    return [Unanswered(tuple(group)) for group in groups.values()]


def _patience(site: Site) -> timedelta:
    return timedelta(hours=site.rules.acknowledge_hours)


def seen_by_any(notice: Notice) -> bool:
    """Whether anybody of its audience has said to have seen this or another notice about the same thing."""
    thing = thing_of(notice)
    seen = same_matter(notice).filter(acknowledged_at__isnull=False, audience=notice.audience)
    return any(thing_of(row) == thing for row in seen)


def same_matter(notice: Notice) -> QuerySet[Notice]:
    """Notices about the same dose or case since the day of the first of them."""
    first = root_of(notice)
    return Notice.objects.filter(
        site=notice.site_id,
        incident=first.incident_id,
        course=first.course_id,
        step=first.step,
        send_on__gte=first.send_on,
    ).select_related("about__about__about")


def next_contacts(each: Unanswered, now: datetime) -> tuple[Level, list[Recipient]] | None:
    """Who is to be told, and where they stand in the chain; None when there is nobody further.

    A level at which there is nobody but those who haven't answered is passed over.
    """
    silent = {row.email.casefold() for row in each.rows}
    for level in levels_after(each.level):
        readers = [
            reader
            for reader in readers_at(each.first.site, level, now)
            if reader.email.casefold() not in silent
        ]
        if readers:
            return level, readers
    return None


def readers_at(site: Site, level: Level, now: datetime) -> list[Recipient]:
    if level == Level.LIAISON:
        return clinic_side(site, now)
    officers = holders(site, SiteRole.Role.OFFICER, now)
    return officers + further_contact(site) if level == Level.FURTHER else officers


def further_contact(site: Site) -> list[Recipient]:
    """Who is told when no officer answers; perhaps nobody's account here, so the mail says all it may say."""
    email = site.rules.further_contact_email
    return [Recipient(email, site.language)] if email else []
