"""The doses that are due after exposures, as a list in which several are recorded at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache

from safety.forms.course.doses import GivenDoseForm
from safety.pages.course.due_rows import DueGroups, DueRow, group_due
from safety.selectors.case.cases import courses_behind, doses_due
from safety.selectors.case.desk import COMING, cases_awaiting_clinic
from safety.services.course.doses_together import GivenDose, SomeRefused, doses_record_together
from staff.doors.form import After, Outcome, refused_into, told, tried
from staff.doors.page import LIAISON, OFFICER, page, signed_in
from staff.doors.status import INVALID
from staff.models import Dose, Site, User
from staff.selectors.access import LIAISON as LIAISON_ROLE
from staff.selectors.access import OFFICER as OFFICER_ROLE
from staff.selectors.access import sites_as
from staff.services.audit import audit_write


@never_cache
@page(OFFICER, LIAISON)
def doses_list(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    sites = sites_as(user, OFFICER_ROLE, LIAISON_ROLE)
    # Read before the rows: what is computed meanwhile is announced rather than missed.
    computing = courses_behind().filter(incident__site__in=sites).count()
    groups, outcome = _groups(request, sites, now), Outcome[list[Dose]]()
    if request.method == "POST":
        outcome = _record(request, user, groups, now)
    else:
        _audit(user, sites, now)
    if outcome.kept:
        return told(request, outcome, After(back=reverse("doses-due"), done=_recorded))
    wrong = [row for row in groups.rows if row.form and row.form.errors]
    context = {"groups": groups, "wrong": wrong, "computing": computing, "several": len(sites) > 1}
    context["awaiting"] = cases_awaiting_clinic(user, now)
    return render(request, "safety/doses_due.html", context, status=outcome.status)


def _groups(request: HttpRequest, sites: QuerySet[Site], now: datetime) -> DueGroups:
    # A day of slack: the calendar where it is given decides, and it may be ahead of UTC's.
    until = now.date() + COMING + timedelta(days=1)
    return group_due(doses_due(sites).filter(due_on__lte=until), request, now)


def _audit(user: User, sites: QuerySet[Site], now: datetime) -> None:
    for site in sites:
        audit_write(actor=user, action="board.seen", now=now, site=site, target="doses-due")


def _record(request: HttpRequest, user: User, groups: DueGroups, now: datetime) -> Outcome[list[Dose]]:
    """Take the ticked rows, all or none. Refusals stand in the forms of their rows."""
    forms = {row.key: (row, row.form) for row in groups.rows if row.form}
    if not all(form.is_valid() for _row, form in forms.values()):
        messages.error(request, _("Nothing was recorded yet: look at the marked rows."))
        return Outcome(INVALID)
    given = [_given(row, form) for row, form in forms.values() if form.ticked]
    if not given:
        messages.error(request, _("Tick the doses that were given, then record them."))
        return Outcome(INVALID)
    outcome = tried(partial(doses_record_together, actor=user, given=given, now=now))
    if outcome.refused is None:
        return outcome
    messages.error(request, outcome.refused.message)
    rows = outcome.refused.rows if isinstance(outcome.refused, SomeRefused) else {}
    worst = max((refused_into(forms[key][1], why) for key, why in rows.items()), default=outcome.status)
    return replace(outcome, status=worst)


def _given(row: DueRow, form: GivenDoseForm) -> GivenDose:
    said = {name: form.cleaned_data[name] for name in ("given_on", "batch", "confirmed")}
    return GivenDose(key=row.key, course=row.dose.course, number=row.dose.number, **said)


def _recorded(doses: Sequence[Dose]) -> list[tuple[int, str]]:
    words = ngettext("%(n)d dose is recorded.", "%(n)d doses are recorded.", len(doses)) % {"n": len(doses)}
    return [(messages.SUCCESS, words + " " + _("The dates that follow are computed within seconds."))]
