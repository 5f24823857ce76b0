"""The clinic list: where to go, what is in stock, and how old that knowledge is."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from safety.forms.case import ClinicAddForm, ClinicConfirmForm
from safety.models import Clinic
from safety.pages.steps import Step, run_step
from safety.selectors.clinics import clinics_kept_by, clinics_visible_to
from safety.services.clinics import clinic_add, clinic_confirm
from staff.pages.doors import LEAD, LIAISON, MEMBER, OFFICER, page, signed_in
from staff.selectors.access import LIAISON as LIAISON_ROLE
from staff.selectors.access import OFFICER as OFFICER_ROLE
from staff.selectors.access import sites_as

# Stock moves within days; after a week what we know is a guess (common practice, no source).
STALE_DAYS = 7


@dataclass(frozen=True)
class ClinicRow:
    """`days`: how old the knowledge of the stock is; None when nobody ever asked."""

    clinic: Clinic
    days: int | None
    stale: bool
    kept: bool


@never_cache
@page(OFFICER, LIAISON, LEAD, MEMBER)
def clinics(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    kept = set(clinics_kept_by(user).values_list("pk", flat=True))
    shown = list(clinics_visible_to(user))
    shown += list(clinics_kept_by(user).filter(active=False))
    rows = []
    for clinic in shown:
        asked = clinic.confirmed_on
        days = (clinic.site.local_date(now) - asked).days if asked else None
        rows.append(ClinicRow(clinic, days, days is None or days > STALE_DAYS, clinic.pk in kept))
    context = {
        "rows": rows,
        "keeps": sites_as(user, OFFICER_ROLE, LIAISON_ROLE).exists(),
        "several": len({row.clinic.site_id for row in rows}) > 1,
    }
    return render(request, "safety/clinics.html", context)


@never_cache
@page(OFFICER, LIAISON)
def confirm(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    clinic = get_object_or_404(clinics_kept_by(user), pk=pk)
    step = Step(
        title=_("What %(clinic)s has today") % {"clinic": clinic},
        submit=_("Confirm as of today"),
        back=reverse("clinics"),
        site=clinic.site,
        done=_("%(clinic)s is confirmed as of today.") % {"clinic": clinic},
        before=(_("Ring %(phone)s and ask; don't copy yesterday's answer.") % {"phone": clinic.phone},),
    )
    initial = {
        "vaccine": clinic.vaccine,
        "immunoglobulin": clinic.immunoglobulin,
        "phone": clinic.phone,
        "hours": clinic.hours,
        "active": clinic.active,
    }
    return run_step(
        request,
        form=ClinicConfirmForm(request.POST or None, initial=initial),
        act=lambda said: clinic_confirm(actor=user, clinic=clinic, now=now, **said),
        step=step,
    )


@never_cache
@page(OFFICER, LIAISON)
def add(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    sites = sites_as(user, OFFICER_ROLE, LIAISON_ROLE)
    step = Step(
        title=_("Add a clinic"),
        submit=_("Add it"),
        back=reverse("clinics"),
        site=sites[0],
        done=_("The clinic is on the list. Ring it and confirm its stock."),
    )
    return run_step(
        request,
        form=ClinicAddForm(request.POST or None, sites=sites, initial={"site": sites[0]}),
        act=lambda said: clinic_add(actor=user, now=now, **said),
        step=step,
    )
