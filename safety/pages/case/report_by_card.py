"""The report of somebody who isn't signed in and types the code of the own card."""

from __future__ import annotations

from datetime import datetime
from functools import partial

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.debug import sensitive_variables

from safety.forms.case.report import CardCodeForm, ReportForm
from safety.models import PhoneLink
from safety.pages.case.report_form import form_again, report_form, report_send, show_form, sites_asked
from safety.pages.clinic.clinic_choice import clinic_advice
from safety.services.case.incidents import Reported
from safety.services.phone.links import LinkState, card_refusal, link_check
from staff.doors.form import Outcome, attempt
from staff.doors.retry import acting
from staff.doors.status import INVALID
from staff.forms.site.account import SignInForm


@sensitive_variables("check")
def by_card(request: HttpRequest, now: datetime) -> HttpResponse:
    """The report of somebody who isn't signed in and types the code of the own card."""
    form, card = report_form(None, data=request.POST), CardCodeForm(request.POST)
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
    form = form_again(form, outcome, request, None)
    return show_form(request, form, _sign_in_below(request), sites_asked(None), now, outcome.status, card)


def _send_by_card(form: ReportForm, link: PhoneLink, now: datetime, _said: object) -> Reported:
    return report_send(form, None, now, link)


def _sign_in_below(request: HttpRequest) -> SignInForm:
    form = SignInForm(request)
    form.fields["username"].widget.attrs.pop("autofocus", None)
    return form


def _sent_by_card(request: HttpRequest, reported: Reported, now: datetime) -> HttpResponse:
    incident = reported.incident
    context = {
        "incident": incident,
        "site": incident.site,
        "advice": clinic_advice(incident, now, by_record=False),
    }
    return render(request, "safety/report_card_sent.html", context)
