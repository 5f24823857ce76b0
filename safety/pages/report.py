"""Reporting a bite: wash first, then a few questions. Nothing sent is lost to an expired session."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters, sensitive_variables

from safety.errors import Invalid, KeyReused, Refused
from safety.forms.report import CardCodeForm, ReportForm
from safety.models import PhoneLink
from safety.pages.clinic_choice import clinic_advice
from safety.pages.steps import show_refusal
from safety.pages.washing import wash_clock
from safety.rules.washing import WASH_MINUTES
from safety.selectors.cases import incidents_visible_to, incidents_washed_by, reportable_people
from safety.services.incidents import Reported, incident_report
from safety.services.phone.links import LinkState, card_refusal, link_check
from staff.forms.account import SignInForm
from staff.models import Person, Site, User
from staff.doors.page import LEAD, LIAISON, MEMBER, OFFICER, page, signed_in
from staff.selectors.access import own_person, sites_of


def _new_form(user: User | None, sites: list[Site], now: datetime) -> ReportForm:
    initial: dict[str, object] = {"key": uuid.uuid4()}
    if len({site.time_zone for site in sites}) == 1:
        local = now.astimezone(sites[0].zone)
        initial |= {"day": local.date(), "clock": local.strftime("%H:%M")}
    return _form(user, initial=initial)


def _form(user: User | None, **kwargs: object) -> ReportForm:
    people = reportable_people(user) if user else Person.objects.none()
    own = own_person(user) if user else None
    ask = user is not None and (own is None or people.exclude(pk=own.pk).exists())
    form = ReportForm(people=people, ask_person=ask, **kwargs)
    if ask:
        form.fields["person"].initial = own
    return form


@sensitive_post_parameters("password", "card_code")
@never_cache
@login_not_required
def report(request: HttpRequest) -> HttpResponse:
    """Open to all, so that the wash clock needs no account; sending needs one, on this very page if need be."""
    now = timezone.now()
    user = signed_in(request) if request.user.is_authenticated else None
    if request.method == "POST" and user is None and request.POST.get("card_code", "").strip():
        return _by_card(request, now)
    sign_in = None if user else _sign_in(request)
    if request.method == "POST" and sign_in is not None and sign_in.is_valid():
        user, sign_in = sign_in.get_user(), None
        login(request, user)
    sites = list(sites_of(user)) if user else list(Site.objects.select_related("rules"))
    status = 200
    if request.method == "POST":
        form = _form(user, data=request.POST)
        if form.is_valid() and user is not None:
            try:
                return _sent(request, _send(form, user, now))
            except Refused as refusal:
                status = show_refusal(form, refusal)
                if isinstance(refusal, KeyReused):
                    form = _with_new_key(form, request, user)
        else:
            status = 401 if user is None else 422
    else:
        form = _new_form(user, sites, now)
    return _show(request, form, sign_in, sites, now, status)


def _show(
    request: HttpRequest,
    form: ReportForm,
    sign_in: SignInForm | None,
    sites: list[Site],
    now: datetime,
    status: int,
    card: CardCodeForm | None = None,
) -> HttpResponse:
    context = {
        "form": form,
        "sign_in": sign_in,
        "card": card or CardCodeForm(),
        "sites": sites,
        # Of several sites the longest counts.
        "wash_minutes": max((site.rules.wash_minutes for site in sites), default=WASH_MINUTES),
        "now": now,
    }
    return render(request, "safety/report.html", context, status=status)


@sensitive_variables("check")
def _by_card(request: HttpRequest, now: datetime) -> HttpResponse:
    """The report of somebody who isn't signed in and types the code of the own card."""
    form, card = _form(None, data=request.POST), CardCodeForm(request.POST)
    status = 422
    # A code is compared only for a report that can go out: a slip in it costs no try.
    if form.is_valid() and card.is_valid():
        check = link_check(code=card.cleaned_data["card_code"], now=now)
        if check.proven and check.link is not None:
            try:
                return _sent_by_card(request, _send(form, None, now, check.link), now)
            except Refused as refusal:
                status = show_refusal(form, refusal)
                if isinstance(refusal, KeyReused):
                    form = _with_new_key(form, request, None)
        else:
            status = 429 if check.state is LinkState.LOCKED else 401
            card.add_error("card_code", card_refusal(check))
    sign_in = SignInForm(request)
    sign_in.fields["username"].widget.attrs.pop("autofocus", None)
    return _show(request, form, sign_in, list(Site.objects.select_related("rules")), now, status, card)


def _sent_by_card(request: HttpRequest, reported: Reported, now: datetime) -> HttpResponse:
    incident = reported.incident
    context = {
        "incident": incident,
        "site": incident.site,
        "advice": clinic_advice(incident, now, by_record=False),
    }
    return render(request, "safety/report_card_sent.html", context)


def _sign_in(request: HttpRequest) -> SignInForm:
    form = SignInForm(request, data=request.POST or None)
    # The focus belongs to the wash clock on top, not to the end of the page.
    form.fields["username"].widget.attrs.pop("autofocus", None)
    return form


def _send(form: ReportForm, user: User | None, now: datetime, link: PhoneLink | None = None) -> Reported:
    person: Person | None = link.person if link else form.cleaned_data.get("person")
    if person is None and user is not None and "person" not in form.fields:
        person = own_person(user)
    if person is None:
        raise Invalid({}, _("This account is on no team and keeps none, so there is nobody to report for."))
    happened_at = form.happened_at(person.site.zone)
    if happened_at is None:
        raise Invalid({"clock": _("The clocks left this time out that day; give the time after the change.")})
    return incident_report(
        actor=user,
        person=person,
        key=form.cleaned_data["key"],
        report=form.report(happened_at),
        now=now,
        link=link,
    )


def _with_new_key(form: ReportForm, request: HttpRequest, user: User | None) -> ReportForm:
    """The page with what was typed, ready to go out as a second report if it really is one."""
    data = request.POST.copy()
    data["key"] = str(uuid.uuid4())
    again = _form(user, data=data)
    key = form.cleaned_data["key"]
    known = incidents_visible_to(user).filter(key=key).first() if user else None
    again.add_error(
        None,
        _(
            "A report was sent from this page already, as %(reference)s, and this one differs from it. "
            "If it is about the same incident, stop here. If it is another incident, send it again."
        )
        % {"reference": known.reference if known else _("another case")},
    )
    return again


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
    incident = get_object_or_404(incidents_washed_by(signed_in(request)), reference=reference)
    now = timezone.now()
    context = {
        "incident": incident,
        "site": incident.site,
        "advice": clinic_advice(incident, now, by_record=False),
        "wash": wash_clock(incident, now),
        "back": reverse("report-sent", args=[incident.reference]),
    }
    return render(request, "safety/report_sent.html", context)
