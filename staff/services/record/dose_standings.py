"""The rows that say of every dose whether it counts; written by `clearance_refresh` alone."""

from __future__ import annotations

from collections.abc import Iterable

from staff.models import DoseStanding, Person
from staff.rules.record.dose_standing import DoseJudgement
from staff.selectors.record.records import rows_of

_FIELDS = ("counts", "step", "regimen", "reason", "days")


def dose_standings_write(*, judged: Iterable[tuple[Person, Iterable[DoseJudgement]]]) -> None:
    """Make the stored standings of locked people equal to what was judged; rows that are equal already stay."""
    new: list[DoseStanding] = []
    changed: list[DoseStanding] = []
    gone: list[int] = []
    for person, doses in judged:
        stored = {row.dose_id: row for row in rows_of(person, "dose_standings")}
        for one in doses:
            row = stored.pop(one.dose_id, None)
            if row is None:
                new.append(_filled(DoseStanding(person=person, dose_id=one.dose_id), one))
            elif row.as_judgement() != one:
                changed.append(_filled(row, one))
        gone += [row.pk for row in stored.values()]
    DoseStanding.objects.bulk_create(new)
    if changed:
        DoseStanding.objects.bulk_update(changed, _FIELDS)
    if gone:
        DoseStanding.objects.filter(pk__in=gone).delete()


def _filled(row: DoseStanding, one: DoseJudgement) -> DoseStanding:
    row.counts, row.step, row.days = one.counts, one.step, one.days
    row.regimen = one.regimen or ""
    row.reason = one.reason.value if one.reason else ""
    return row
