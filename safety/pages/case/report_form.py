"""The report's form: filled in beforehand, sent, and shown again with what was typed."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from safety.errors import Invalid, KeyReused
from safety.forms.case.report import CardCodeForm, ReportForm
from safety.models import PhoneLink
from safety.rules.case.washing import WASH_MINUTES
from safety.selectors.case.cases import incidents_visible_to, reportable_people
from safety.services.case.incidents import Reported
from safety.services.case.typed_reports import incident_report
from staff.doors.form import Outcome
from staff.forms.site.account import SignInForm
from staff.models import Person, Site, User
from staff.selectors.access import own_person, sites_of


def new_form(user: User | None, sites: list[Site], now: datetime) -> ReportForm:
    initial: dict[str, object] = {"key": uuid.uuid4()}
    if len({site.time_zone for site in sites}) == 1:
        local = now.astimezone(sites[0].zone)
        initial |= {"day": local.date(), "clock": local.strftime("%H:%M")}
    return report_form(user, initial=initial)


def report_form(user: User | None, **kwargs: object) -> ReportForm:
    people = reportable_people(user) if user else Person.objects.none()
    own = own_person(user) if user else None
    ask = user is not None and (own is None or people.exclude(pk=own.pk).exists())
    form = ReportForm(people=people, ask_person=ask, **kwargs)
    if ask:
        form.fields["person"].initial = own
    return form


def sites_asked(user: User | None) -> list[Site]:
    return list(sites_of(user)) if user else list(Site.objects.select_related("rules"))


def show_form(
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


def form_again(
    form: ReportForm, outcome: Outcome[Reported], request: HttpRequest, user: User | None
) -> ReportForm:
    return _with_new_key(form, request, user) if isinstance(outcome.refused, KeyReused) else form


def report_send(
    form: ReportForm, user: User | None, now: datetime, link: PhoneLink | None = None
) -> Reported:
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
    again = report_form(user, data=data)
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
