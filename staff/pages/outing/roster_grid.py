"""The roster of some days as a grid of people by day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from staff.doors.page import OFFICER, page, signed_in
from staff.doors.status import INVALID
from staff.models import CrewRole, DayWish, Outing
from staff.pages.outing.roster_days import days_asked
from staff.pages.outing.roster_undo import last_step
from staff.selectors.outing.roster import lacking_words
from staff.selectors.outing.roster_board import CrewDay, RosterBoard, TeamMember, roster_board
from staff.selectors.record.clear_from import ClearFrom, clear_from
from staff.selectors.record.readiness import Readiness
from staff.services.audit import audit_write


@dataclass(frozen=True)
class Cell:
    """One person on one day. `state`: on, free, off (not clear), asked (can't come), rest, over, or idle (no outing)."""

    day: date
    state: str
    words: str
    detail: str
    anchor: str
    role: str = ""
    by_hand: bool = True
    wish: str = ""


@dataclass(frozen=True)
class Chip:
    """Open places of one role on one crew."""

    seat: str
    words: str
    roles: str


@page(OFFICER)
def grid(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    form, asked = days_asked(request, now)
    if asked is None:
        return render(
            request, "staff/roster_grid.html", {"form": form}, status=INVALID if form.errors else 200
        )
    target = f"roster:{asked.first}"
    audit_write(actor=user, action="board.seen", now=now, site=asked.site, target=target)
    board = roster_board(asked.site, asked.first, asked.days)
    around = {"form": form, "site": asked.site, "query": asked.query, "undo": last_step(request, asked.site)}
    return render(request, "staff/roster_grid.html", _grid(board, asked.site.local_date(now)) | around)


def _grid(board: RosterBoard, today: date) -> dict[str, Any]:
    return {
        "board": board,
        "today": today,
        "heads": [(day, _open_by_outing(board.crews_by_day[day])) for day in board.days],
        "rows": [
            (member, _roles(member), [_cell(member, day, board, today) for day in board.days])
            for member in board.team
        ],
        "unclear": _unclear(board, today),
    }


def _roles(member: TeamMember) -> str:
    return ", ".join(str(CrewRole(role).label) for role in CrewRole.values if role in member.roles)


def _open_by_outing(rows: Sequence[CrewDay]) -> list[tuple[Outing, list[tuple[str, list[Chip]]]]]:
    """The outings of one day, each with the crews that lack somebody and those that left (without a chip); crews are
    named where there are several."""
    found: dict[int, tuple[Outing, list[tuple[str, list[Chip]]]]] = {}
    for row in rows:
        outing, short = found.setdefault(row.outing.pk, (row.outing, []))
        if row.lacks or row.left:
            name = row.crew.name if len(outing.crews.all()) > 1 else ""
            short.append((name, [_chip(row, role, number) for role, number in row.lacks.items()]))
    return list(found.values())


def _chip(row: CrewDay, role: str, number: int) -> Chip:
    return Chip(f"{row.crew.pk}:{role}", lacking_words(role, number), role)


def _cell(member: TeamMember, day: date, board: RosterBoard, today: date) -> Cell:
    anchor = f"c-{member.person.pk}-{day.isoformat()}"
    if held := member.assigned.get(day):
        where = f"{held.outing.area}, {held.crew.name}"
        label = str(held.get_role_display())
        cannot = _("can't come") if member.wish(day) == DayWish.Kind.CANNOT else ""
        return Cell(day, "on", label, where, anchor, role=held.role, by_hand=not held.proposed, wish=cannot)
    if day < today or not board.crews_by_day[day]:
        return Cell(day, "over" if day < today else "idle", "", "", anchor)
    if not member.clear_on(day):
        return Cell(day, "off", _("not clear"), "", anchor)
    wish = member.wish(day)
    if wish == DayWish.Kind.CANNOT:
        return Cell(day, "asked", _("can't"), "", anchor)
    if member.misses_day_off(day, board.rest):
        return Cell(day, "rest", _("day off"), "", anchor)
    said = {DayWish.Kind.RATHER_NOT: _("rather not"), DayWish.Kind.GLADLY: _("gladly")}.get(wish, "")  # type: ignore[call-overload]
    return Cell(day, "free", said or _("free"), "", anchor)


def _unclear(board: RosterBoard, today: date) -> list[tuple[Readiness, ClearFrom, str]]:
    """Everybody who isn't clear on some of the days that are ahead, by the first of them, and on how many."""
    rows, spans, ahead = [], [], [day for day in board.days if day >= today]
    for member in board.team:
        if days := [day for day in ahead if not member.clear_on(day)]:
            rows.append(member.readiness(days[0]))
            spans.append(_span(days, ahead))
    return list(zip(rows, clear_from(rows, today), spans, strict=True))


def _span(days: Sequence[date], ahead: Sequence[date]) -> str:
    if len(days) == len(ahead):
        return _("all these days")
    if (days[-1] - days[0]).days == len(days) - 1:
        return f"{date_format(days[0])} – {date_format(days[-1])}" if len(days) > 1 else date_format(days[0])
    return _("%(number)d of %(all)d days, first %(day)s") % {
        "number": len(days),
        "all": len(ahead),
        "day": date_format(days[0]),
    }
