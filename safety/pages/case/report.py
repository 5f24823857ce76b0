"""Reporting a bite: wash first, then a few questions. Nothing sent is lost to an expired session."""

from __future__ import annotations

from datetime import datetime

from django.contrib import messages
from django.contrib.auth import login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from safety.pages.case.report_by_card import by_card
from safety.pages.case.report_form import (
    form_again,
    new_form,
    report_form,
    report_send,
    show_form,
    sites_asked,
)
from safety.pages.case.washing import wash_clock
from safety.pages.clinic.clinic_choice import clinic_advice
from safety.selectors.case.cases import incidents_visible_to, incidents_washed_by
from safety.services.case.incidents import Reported
from staff.doors.form import attempt
from staff.doors.page import LEAD, LIAISON, MEMBER, OFFICER, open_page, page, signed_in
from staff.forms.site.account import SignInForm
from staff.models import User


@sensitive_post_parameters("password", "card_code")
@never_cache
@open_page
def report(request: HttpRequest) -> HttpResponse:
    """Open to all, so that the wash clock needs no account; sending needs one, on this very page if need be."""
    now, user = timezone.now(), signed_in(request) if request.user.is_authenticated else None
    if request.method != "POST":
        sites, sign_in = sites_asked(user), None if user else _sign_in(request)
        return show_form(request, new_form(user, sites, now), sign_in, sites, now, 200)
    if user is None and request.POST.get("card_code", "").strip():
        return by_card(request, now)
    return _by_account(request, user, now)


def _by_account(request: HttpRequest, user: User | None, now: datetime) -> HttpResponse:
    sign_in = None if user else _sign_in(request)
    if sign_in is not None and sign_in.is_valid():
        user, sign_in = sign_in.get_user(), None
        login(request, user)
    form = report_form(user, data=request.POST)
    if user is None:
        return show_form(request, form, sign_in, sites_asked(None), now, 401)
    reporter = user
    outcome = attempt(request, form, lambda _said: report_send(form, reporter, now))
    if outcome.made is not None:
        return _sent(request, outcome.made)
    form = form_again(form, outcome, request, user)
    return show_form(request, form, sign_in, sites_asked(user), now, outcome.status)


def _sign_in(request: HttpRequest) -> SignInForm:
    form = SignInForm(request, data=request.POST or None)
    # The focus belongs to the wash clock on top, not to the end of the page.
    form.fields["username"].widget.attrs.pop("autofocus", None)
    return form


def _sent(request: HttpRequest, reported: Reported) -> HttpResponse:
    incident = reported.incident
    words = (
        _("Report %(reference)s has arrived.")
        if reported.made
        else _("Report %(reference)s had arrived already.")
    )
    messages.success(request, words % {"reference": incident.reference})
    if incidents_visible_to(signed_in(request)).filter(pk=incident.pk).exists():
        return redirect("case", incident.reference)
    return redirect("report-sent", incident.reference)


@never_cache
@page(OFFICER, LIAISON, LEAD, MEMBER)
def report_sent(request: HttpRequest, reference: str) -> HttpResponse:
    """For a crew lead, who doesn't see the case: the wash clock and where to go now."""
    now = timezone.now()
    incident = get_object_or_404(incidents_washed_by(signed_in(request)), reference=reference)
    context = {"incident": incident, "site": incident.site, "wash": wash_clock(incident, now)}
    context["advice"] = clinic_advice(incident, now, by_record=False)
    context["back"] = reverse("report-sent", args=[incident.reference])
    return render(request, "safety/report_sent.html", context)
