"""From when somebody is clear: the one answer that every page, the API and every refusal give."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from staff.rules.record.first_clear import first_clear
from staff.rules.record.outlook import Way
from staff.selectors.record.outlook_words import action_words
from staff.selectors.record.readiness import Readiness
from staff.selectors.record.records import RegimenBook, facts_of


@dataclass(frozen=True)
class ClearFrom:
    """`on` is the first clear date from the date asked about, once everything of `way` is done; None: no date
    follows until a person has decided, or until the clearance is recomputed. `lead` and `steps` are sentences."""

    on: date | None
    way: Way
    lead: str
    steps: tuple[str, ...]

    @property
    def words(self) -> str:
        """What a board has room for: the date with what it hangs on; without a date the reasons stand beside it."""
        return " ".join((self.lead, *self.steps)) if self.on else self.lead


def clear_from(rows: Sequence[Readiness], today: date) -> list[ClearFrom]:
    """The answer for each row of a board, in its order; `today` is the date at the sites, all of which agree on it.

    The rows come from `readiness`. Nothing that is advised can be done before `today`.
    """
    if not rows:
        return []
    book = RegimenBook.for_sites({row.person.site_id: row.person.site for row in rows}.values())
    return [_answer(row, book, today) for row in rows]


def _answer(row: Readiness, book: RegimenBook, today: date) -> ClearFrom:
    if row.clear:
        return ClearFrom(row.on, Way(row.on, ()), _("Clear on this date."), ())
    if not row.reasons:
        # The record allows what is stored does not, and nobody can say when the two will agree.
        return ClearFrom(None, Way(None, ()), _("No date until the clearance is recomputed."), ())
    way = first_clear(
        facts=facts_of(row.person),
        rules=row.person.site.rules.for_clearance(),
        pre_exposure=book.pre_exposure[row.person.site_id],
        post_exposure=book.post_exposure,
        today=today,
        on=row.on,
    )
    return ClearFrom(way.clear_on, way, _lead(way), tuple(action_words(action) for action in way.actions))


def _lead(way: Way) -> str:
    if way.clear_on is None:
        return _("No date follows until somebody has decided.")
    words = (
        _("Clear from %(day)s at the earliest, once this is done:")
        if way.actions
        else _("Clear from %(day)s.")
    )
    return words % {"day": date_format(way.clear_on)}
