"""The desk of officer and liaison: what needs doing today, longest late first."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.models import Incident
from safety.pages.case.step_links import need_url
from safety.selectors.case.desk import Desk, Task, desk_of
from staff.doors.page import LIAISON, OFFICER, page, signed_in
from staff.models import User
from staff.services.audit import audit_write


@dataclass(frozen=True)
class DeskRow:
    task: Task
    url: str


@dataclass(frozen=True)
class DeskCase:
    """What waits in one case, in the order of the group."""

    incident: Incident
    rows: list[DeskRow]


@dataclass(frozen=True)
class DeskGroup:
    name: str
    title: str
    tasks: int
    cases: list[DeskCase]
    none: str = ""


@never_cache
@page(OFFICER, LIAISON)
def desk(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    found = desk_of(user, now)
    shown = [*found.late, *found.today, *found.coming, *found.undated]
    for site in {task.incident.site for task in shown}:
        audit_write(actor=user, action="board.seen", now=now, site=site, target="desk")
    undated = _group("undated", _("When there is time"), found.undated, user)
    context = {"desk": found, "groups": _groups(found, user), "undated": undated}
    return render(request, "safety/desk.html", context)


def _groups(found: Desk, user: User) -> list[DeskGroup]:
    return [
        _group("late", _("Late"), found.late, user, _("Nothing is late.")),
        _group("today", _("Today"), found.today, user, _("Nothing is for today.")),
        _group("coming", _("Coming"), found.coming, user, _("Nothing comes up in the next 14 days.")),
    ]


def _group(name: str, title: str, tasks: list[Task], user: User, none: str = "") -> DeskGroup:
    cases: dict[int, DeskCase] = {}
    for task in tasks:
        of_case = cases.setdefault(task.incident.pk, DeskCase(task.incident, []))
        of_case.rows.append(DeskRow(task, need_url(task.incident, task.need, user)))
    return DeskGroup(name, title, len(tasks), list(cases.values()), none)
