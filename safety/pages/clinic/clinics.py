"""The clinic list: where to go, what is in stock, and how old that knowledge is."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import partial
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.forms.clinic.clinics import ClinicAddForm, ClinicConfirmForm
from safety.models import Clinic
from safety.pages.clinic.clinic_choice import asked_words, geo_link
from safety.rules.clinic.clinic_choice import Span, is_stale
from safety.selectors.clinic.clinic_choice import holidays_around, open_times, position_of
from safety.selectors.clinic.clinics import clinics_kept_by, clinics_visible_to
from safety.services.clinic.clinics import ClinicDetails, clinic_add, clinic_confirm
from staff.doors.form import Outcome, Step, attempt, told
from staff.doors.page import LEAD, LIAISON, MEMBER, OFFICER, page, signed_in
from staff.models import Site
from staff.selectors.access import LIAISON as LIAISON_ROLE
from staff.selectors.access import OFFICER as OFFICER_ROLE
from staff.selectors.access import sites_as

DETAILS = ("address", "hours", "place", "language")
WEEK = timedelta(days=7)


@dataclass(frozen=True)
class OpenDay:
    """A date of the coming week and the times of day the clinic is open, as "08:00–17:00" in the site's time."""

    day: date
    times: list[str]


@dataclass(frozen=True)
class ClinicRow:
    """`asked`: how old the knowledge of the stock is. `week` is None when the hours can't be reckoned with."""

    clinic: Clinic
    asked: str
    stale: bool
    kept: bool
    geo: str
    week: list[OpenDay] | None


def coming_week(clinic: Clinic, site: Site, now: datetime, holidays: Sequence[date]) -> list[OpenDay] | None:
    """When the clinic is open on today and the six days that follow; None when nobody can tell."""
    today = site.local_date(now)
    start = datetime.combine(today, datetime.min.time(), tzinfo=site.zone)
    end = datetime.combine(today + WEEK, datetime.min.time(), tzinfo=site.zone)
    spans = open_times(clinic, site, holidays=holidays, start=start, end=end)
    if spans is None:
        return None
    days = [today + timedelta(days=number) for number in range(WEEK.days)]
    return [OpenDay(day, _times_on(day, spans, site)) for day in days]


def _times_on(day: date, spans: Sequence[Span], site: Site) -> list[str]:
    """The spans that begin on `day`, and what is left of those that began before."""
    starts = datetime.combine(day, datetime.min.time(), tzinfo=site.zone)
    ends = datetime.combine(day + timedelta(days=1), datetime.min.time(), tzinfo=site.zone)
    return [
        f"{_clock(max(span.opens_at, starts), site)}–{'24:00' if span.closes_at >= ends else _clock(span.closes_at, site)}"
        for span in spans
        if span.opens_at < ends and span.closes_at > starts
    ]


def _clock(instant: datetime, site: Site) -> str:
    return f"{instant.astimezone(site.zone):%H:%M}"


@never_cache
@page(OFFICER, LIAISON, LEAD, MEMBER)
def clinics(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    shown = [*clinics_visible_to(user), *clinics_kept_by(user).filter(active=False)]
    keeps = sites_as(user, OFFICER_ROLE, LIAISON_ROLE).exists()
    context = {
        "rows": _rows(shown, set(clinics_kept_by(user).values_list("pk", flat=True)), now),
        "keeps": keeps,
        "several": len({row.site for row in shown}) > 1,
    }
    return render(request, "safety/clinics.html", context)


def _rows(shown: Sequence[Clinic], kept: set[int], now: datetime) -> list[ClinicRow]:
    holidays = {site: holidays_around(site, now, now + WEEK) for site in {row.site for row in shown}}
    return [_row(clinic, now, holidays[clinic.site], clinic.pk in kept) for clinic in shown]


def _row(clinic: Clinic, now: datetime, holidays: Sequence[date], kept: bool) -> ClinicRow:
    asked = clinic.confirmed_on
    days = (clinic.site.local_date(now) - asked).days if asked else None
    return ClinicRow(
        clinic=clinic,
        asked=asked_words(days),
        stale=is_stale(days, clinic.site.rules.clinic_news_days),
        kept=kept,
        geo=geo_link(clinic),
        week=coming_week(clinic, clinic.site, now, holidays),
    )


@never_cache
@page(OFFICER, LIAISON)
def confirm(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    clinic = get_object_or_404(clinics_kept_by(user), pk=pk)
    initial = ClinicConfirmForm.initial_of(clinic, position_of(clinic))
    form = ClinicConfirmForm(request.POST or None, initial=initial)
    act = partial(clinic_confirm, actor=user, clinic=clinic, now=now)
    return _kept(request, form, lambda said: act(**_with_details(said)), _confirm_step(clinic))


def _confirm_step(clinic: Clinic) -> Step:
    return Step(
        title=_("What %(clinic)s has today") % {"clinic": clinic},
        submit=_("Confirm as of today"),
        back=reverse("clinics"),
        done=_("%(clinic)s is confirmed as of today.") % {"clinic": clinic},
        before=(_("Ring %(phone)s and ask; don't copy yesterday's answer.") % {"phone": clinic.phone},),
        site=clinic.site,
    )


@never_cache
@page(OFFICER, LIAISON)
def add(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    sites = sites_as(user, OFFICER_ROLE, LIAISON_ROLE)
    form = ClinicAddForm(request.POST or None, sites=sites, initial={"site": sites[0]})
    act = partial(clinic_add, actor=user, now=now)
    return _kept(request, form, lambda said: act(**_with_details(said)), _add_step(sites[0]))


def _add_step(site: Site) -> Step:
    return Step(
        title=_("Add a clinic"),
        submit=_("Add it"),
        back=reverse("clinics"),
        done=_("The clinic is on the list. Ring it and confirm its stock."),
        before=(_("Copy the place from a map, so that the nearest clinic can be told."),),
        site=site,
    )


def _with_details(said: dict[str, Any]) -> dict[str, Any]:
    rest = {name: value for name, value in said.items() if name not in DETAILS}
    return rest | {"details": ClinicDetails(**{name: said[name] for name in DETAILS})}


def _kept(
    request: HttpRequest, form: forms.Form, act: Callable[[dict[str, Any]], object], step: Step
) -> HttpResponse:
    """The form; its hours laid out as the coming week when that is asked for; or kept, and back to the list."""
    looked = "look" in request.POST
    week = _week_of(form, step.site) if looked and step.site and form.is_valid() else None
    outcome = Outcome[object]() if looked and form.is_valid() else attempt(request, form, act)
    if outcome.kept:
        return told(request, outcome, step)
    context = {"form": form, "step": step, "site": step.site, "week": week, "looked": looked}
    return render(request, "safety/clinic_form.html", context, status=outcome.status)


def _week_of(form: forms.Form, site: Site) -> list[OpenDay] | None:
    now, site = timezone.now(), form.cleaned_data.get("site", site)
    typed = Clinic(hours=form.cleaned_data["hours"])
    return coming_week(typed, site, now, holidays_around(site, now, now + WEEK))
