"""Reporting a bite: wash first, then a few questions. Nothing sent is lost to an expired session."""

from __future__ import annotations

import uuid
from datetime import datetime
from functools import partial

from django.contrib import messages
from django.contrib.auth import login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters, sensitive_variables

from safety.errors import Invalid, KeyReused
from safety.forms.case.report import CardCodeForm, ReportForm
from safety.models import PhoneLink
from safety.pages.case.washing import wash_clock
from safety.pages.clinic.clinic_choice import clinic_advice
from safety.rules.case.washing import WASH_MINUTES
from safety.selectors.case.cases import incidents_visible_to, incidents_washed_by, reportable_people
from safety.services.case.incidents import Reported
from safety.services.case.typed_reports import incident_report
from safety.services.phone.links import LinkState, card_refusal, link_check
from staff.doors.form import Outcome, attempt
from staff.doors.page import LEAD, LIAISON, MEMBER, OFFICER, open_page, page, signed_in
from staff.doors.retry import acting
from staff.doors.status import INVALID
from staff.forms.site.account import SignInForm
from staff.models import Person, Site, User
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
@open_page
def report(request: HttpRequest) -> HttpResponse:
    """Open to all, so that the wash clock needs no account; sending needs one, on this very page if need be."""
    now, user = timezone.now(), signed_in(request) if request.user.is_authenticated else None
    if request.method != "POST":
        sites, sign_in = _sites(user), None if user else _sign_in(request)
        return _show(request, _new_form(user, sites, now), sign_in, sites, now, 200)
    if user is None and request.POST.get("card_code", "").strip():
        return _by_card(request, now)
    return _by_account(request, user, now)


def _sites(user: User | None) -> list[Site]:
    return list(sites_of(user)) if user else list(Site.objects.select_related("rules"))


def _by_account(request: HttpRequest, user: User | None, now: datetime) -> HttpResponse:
    sign_in = None if user else _sign_in(request)
    if sign_in is not None and sign_in.is_valid():
        user, sign_in = sign_in.get_user(), None
        login(request, user)
    form = _form(user, data=request.POST)
    if user is None:
        return _show(request, form, sign_in, _sites(None), now, 401)
    reporter = user
    outcome = attempt(request, form, lambda _said: _send(form, reporter, now))
    if outcome.made is not None:
        return _sent(request, outcome.made)
    form = _form_again(form, outcome, request, user)
    return _show(request, form, sign_in, _sites(user), now, outcome.status)


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
    outcome = Outcome[Reported](INVALID)
    # A code is compared only for a report that can go out: a slip in it costs no try.
    if form.is_valid() and card.is_valid():
        check = acting(link_check, code=card.cleaned_data["card_code"], now=now)
        if check.proven and check.link is not None:
            outcome = attempt(request, form, partial(_send_by_card, form, check.link, now))
        else:
            outcome = Outcome(429 if check.state is LinkState.LOCKED else 401)
            card.add_error("card_code", card_refusal(check))
    if outcome.made is not None:
        return _sent_by_card(request, outcome.made, now)
    form = _form_again(form, outcome, request, None)
    return _show(request, form, _sign_in_below(request), _sites(None), now, outcome.status, card)


def _send_by_card(form: ReportForm, link: PhoneLink, now: datetime, _said: object) -> Reported:
    return _send(form, None, now, link)


def _sign_in_below(request: HttpRequest) -> SignInForm:
    form = SignInForm(request)
    form.fields["username"].widget.attrs.pop("autofocus", None)
    return form


def _form_again(
    form: ReportForm, outcome: Outcome[Reported], request: HttpRequest, user: User | None
) -> ReportForm:
    return _with_new_key(form, request, user) if isinstance(outcome.refused, KeyReused) else form


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
    now = timezone.now()
    incident = get_object_or_404(incidents_washed_by(signed_in(request)), reference=reference)
    context = {"incident": incident, "site": incident.site, "wash": wash_clock(incident, now)}
    context["advice"] = clinic_advice(incident, now, by_record=False)
    context["back"] = reverse("report-sent", args=[incident.reference])
    return render(request, "safety/report_sent.html", context)
