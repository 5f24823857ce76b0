"""The rows of a plan as somebody asks for them, and what they would change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.http import HttpRequest

from safety.forms.notices.site_plan import PlanRows, initial_of
from safety.models import PlanSubject
from safety.pages.notices.site_plan import rows_told
from safety.rules.notices.follow_up import DEFAULT_PLAN, PlanRow, Subject
from safety.rules.notices.site_plan import about, breaks
from safety.selectors.notices.coming import plan_difference
from safety.selectors.notices.plans import own_rows, plan_of, rows_mark
from safety.words import AUDIENCES, break_words, notice_kind
from staff.models import Site


@dataclass(frozen=True)
class Asked:
    """The rows of one subject as somebody asks for them; `rows` is None while the form has errors."""

    site: Site
    subject: Subject
    own: list[PlanRow]
    form: Any
    rows: list[PlanRow] | None
    faults: list[str]
    shipped: bool
    now: datetime

    @property
    def holds(self) -> bool:
        return self.rows is not None and not self.faults

    @property
    def mark(self) -> str:
        return rows_mark(self.rows or [])

    def shown(self, request: HttpRequest) -> dict[str, Any]:
        context = {
            "title": str(PlanSubject(self.subject).label),
            "own": self.own,
            "form": self.form,
            "mark": request.POST.get("seen", rows_mark(self.own)),
            "faults": self.faults,
        }
        return context | (_preview(self) if self.holds else {})


def plan_asked(request: HttpRequest, site: Site, subject: Subject, now: datetime) -> Asked:
    """Back to the shipped plan: no rows of one's own."""
    own, shipped = own_rows(site, subject), "shipped" in request.POST
    standing = own or about(plan_of(site), subject)
    entered = request.POST if request.method == "POST" and not shipped else None
    form: Any = PlanRows(entered, initial=initial_of(standing))
    rows: list[PlanRow] | None = [] if shipped else None
    if entered is not None and form.is_valid():
        rows = form.rows(subject)
    faults = [] if shipped else _faults(rows, subject)
    return Asked(site, subject, own, form, rows, faults, shipped, now)


def _faults(rows: Sequence[PlanRow] | None, subject: Subject) -> list[str]:
    return (
        [break_words(fault, audience) for fault, audience in breaks(rows or [], subject)]
        if rows is not None
        else []
    )


def _preview(asked: Asked) -> dict[str, Any]:
    others = [row for row in plan_of(asked.site) if row.what != asked.subject]
    mine = asked.rows or about(DEFAULT_PLAN, asked.subject)
    change = plan_difference(asked.site, [*others, *mine], asked.now)
    return {
        "asked": rows_told(mine),
        "shipped": asked.shipped,
        "previewed": asked.mark,
        "differences": [
            (sign, row, notice_kind(row.kind), AUDIENCES.get(row.audience, row.audience))
            for sign, found in (("+", change.more), ("−", change.fewer))
            for row in found
        ],
    }
