"""How the follow-up of a site went in a period, drawn and as tables."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache

from safety.forms.lessons.figures import FiguresForm
from safety.models import Notice
from safety.registry import asks
from safety.rules.lessons.figures import Band, DoseFigures, Fate, twelve_months
from safety.selectors.lessons.figures import FollowUp, follow_up_figures
from safety.words import notice_kind
from staff.doors.page import LIAISON as LIAISON_ROLE
from staff.doors.page import OFFICER as OFFICER_ROLE
from staff.doors.page import page, signed_in
from staff.models import Site
from staff.selectors.access import LIAISON, OFFICER, sites_as

# Units of the drawing: words to the left, then the bars, then room for their numbers. 270 fit a phone's card.
WIDTH, LEFT, RIGHT, ROW = 270, 116, 52, 26

NOT_SETTLED = (Notice.State.WAITING, Notice.State.CLAIMED, Notice.State.GATHERED)


@dataclass(frozen=True)
class Bar:
    """`number` is part of `of`; `said`: the number as it stands beside the bar. `part`: width of the inner bar."""

    words: str
    number: int
    of: int
    said: str
    look: str
    y: int
    width: int
    part: int


@dataclass(frozen=True)
class Bars:
    width: int
    height: int
    left: int
    rows: list[Bar]


# Words, number, the number within it that has a bar of its own, look.
Line = tuple[str, int, int, str]


def draw_bars(lines: Iterable[Line], of: int | None = None) -> Bars:
    """One bar a line, the longest as wide as there is room. Without `of` each is whole by itself, and its part is said."""
    rows = list(lines)
    longest = max([1, *(number for _words, number, _part, _look in rows)])

    def width(number: int) -> int:
        return (WIDTH - LEFT - RIGHT) * number // longest

    def said(number: int, part: int) -> str:
        return str(number) if of is not None else _("%(part)d of %(all)d") % {"part": part, "all": number}

    bars = [
        Bar(
            words=words,
            number=number,
            of=number if of is None else of,
            said=said(number, part),
            look=look,
            y=ROW * place + ROW // 2,
            width=width(number),
            part=width(part),
        )
        for place, (words, number, part, look) in enumerate(rows)
    ]
    return Bars(WIDTH, ROW * len(rows) + 4, LEFT, bars)


@never_cache
@page(OFFICER_ROLE, LIAISON_ROLE)
def figures(request: HttpRequest) -> HttpResponse:
    sites = sites_as(signed_in(request), OFFICER, LIAISON).order_by("name")
    form = FiguresForm({**_usual(sites.first()), **request.GET.dict()}, sites=sites)
    context: dict[str, Any] = {"form": form}
    if form.is_valid():
        context |= _context(**form.cleaned_data)
    return render(request, "safety/figures.html", context, status=200 if form.is_valid() else 400)


def _usual(site: Site | None) -> dict[str, Any]:
    if site is None:
        return {}
    first, last = twelve_months(site.local_date(timezone.now()))
    return {"site": site.pk, "first": first.isoformat(), "last": last.isoformat()}


def _context(site: Site, first: Any, last: Any) -> dict[str, Any]:
    found = follow_up_figures(site, first, last, site.local_date(timezone.now()))
    months = [(date_format(m.first, "M Y"), m.due, m.on_time, "") for m in found.doses.months]
    return {
        "site": site,
        "first": first,
        "last": last,
        "found": found,
        "on_time": found.doses.fates[Fate.ON_TIME],
        "fates": draw_bars(_fate_lines(found.doses), of=found.doses.due),
        "months": draw_bars(months),
        "notices": _notice_rows(found),
    }


def _fate_lines(doses: DoseFigures) -> list[Line]:
    late = [(_band_words(band), band.doses, 0, "late") for band in doses.late]
    return [
        (_("in time"), doses.fates[Fate.ON_TIME], doses.fates[Fate.ON_TIME], ""),
        *late,
        (_("overdue, chased"), doses.fates[Fate.CHASED], 0, "late"),
        (_("course ended"), doses.fates[Fate.CLOSED], 0, ""),
        (_("to come"), doses.fates[Fate.TO_COME], 0, ""),
    ]


def _band_words(band: Band) -> str:
    if band.last is None:
        return _("%(n)d days late or more") % {"n": band.first}
    if band.first == band.last:
        return ngettext("%(n)d day late", "%(n)d days late", band.first) % {"n": band.first}
    return _("%(first)d to %(last)d days late") % {"first": band.first, "last": band.last}


@dataclass(frozen=True)
class NoticeRow:
    """`seen` is None for a kind whose mails don't ask for a word that they were seen."""

    words: str
    written: int
    sent: int
    withdrawn: int
    refused: int
    waiting: int
    seen: int | None


def _notice_rows(found: FollowUp) -> list[NoticeRow]:
    return [
        NoticeRow(
            words=notice_kind(row.kind),
            written=row.written,
            sent=row.by_state[Notice.State.SENT],
            withdrawn=row.by_state[Notice.State.WITHDRAWN],
            refused=row.by_state[Notice.State.FAILED],
            waiting=sum(row.by_state[state] for state in NOT_SETTLED),
            seen=row.acknowledged if asks(row.kind) else None,
        )
        for row in found.notices
    ]
