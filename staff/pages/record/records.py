"""Adding to one person's record, and taking back what was wrong."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from staff.doors.form import Step, form_page
from staff.doors.page import LIAISON, OFFICER, page, signed_in
from staff.forms.record.record import BriefingForm, DoseForm, HoldForm, ReleaseForm, TitreForm, VoidForm
from staff.ground.errors import Conflict
from staff.models import Dose, Evidence, Hold, Person, Titre
from staff.selectors.access import people_managed_by, records_kept_by
from staff.selectors.record.record_sheet import record_sheet
from staff.services.record.briefings import briefing_record
from staff.services.record.holds import hold_place, hold_release
from staff.services.record.records import dose_record, dose_void
from staff.services.record.titres import titre_record, titre_void
from staff.words import next_dose_words


def _kept(request: HttpRequest, pk: int) -> Person:
    return get_object_or_404(records_kept_by(signed_in(request)), pk=pk)


def _named(words: str, person: Person) -> str:
    return words % {"person": person.name}


@page(OFFICER, LIAISON)
def dose_add(request: HttpRequest, pk: int) -> HttpResponse:
    user, now, person = signed_in(request), timezone.now(), _kept(request, pk)
    own = person.user_id == user.pk
    initial = {"evidence": Evidence.NONE} if own else None
    return form_page(
        request,
        DoseForm(request.POST or None, site=person.site, initial=initial),
        lambda said: dose_record(actor=user, person=person, now=now, **_entered(said)),
        _dose_add_step(person, now, own=own),
    )


def _entered(said: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in said.items() if value}


def _dose_add_step(person: Person, now: datetime, *, own: bool) -> Step:
    words = _(
        "This is your own record: a dose you add yourself counts once a second person has checked its document."
    )
    return Step(
        title=_named(_("Add a dose for %(person)s"), person),
        submit=_("Add the dose"),
        back=reverse("person", args=[person.pk]),
        done=lambda dose: [_dose_told(dose, person.site.local_date(now))],
        before=(words,) if own else (),
        site=person.site,
    )


def _dose_told(dose: Dose, today: date) -> tuple[int, str]:
    """That it is on record; and where it doesn't count, why, and when the next would."""
    shown = record_sheet(dose.person, today)
    line = next(line for line in shown.lines if line.dose.pk == dose.pk)
    if line.counts or dose.renews_only:
        return messages.SUCCESS, _("The dose is on record; clearance follows it.")
    words = _("On record, but it doesn't count: %(why)s") % {"why": line.words[:1].lower() + line.words[1:]}
    following = map(next_dose_words, shown.readiness.reasons) if dose.verified else ()
    return messages.WARNING, " ".join([words, *following]).strip()


@page(OFFICER, LIAISON)
def dose_end(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    doses = Dose.everything.select_related("person").filter(person__in=records_kept_by(user))
    dose = get_object_or_404(doses, pk=pk)
    return form_page(
        request,
        VoidForm(request.POST or None),
        lambda said: dose_void(actor=user, dose=dose, reason=said["reason"], now=now),
        _dose_end_step(dose),
    )


def _dose_end_step(dose: Dose) -> Step:
    return Step(
        title=_("Void the dose of %(day)s of %(person)s")
        % {"day": date_format(dose.given_on), "person": dose.person.name},
        submit=_("Void the dose"),
        back=reverse("person", args=[dose.person_id]),
        done=_("The dose is voided and no longer counts."),
    )


@page(OFFICER, LIAISON)
def titre_add(request: HttpRequest, pk: int) -> HttpResponse:
    user, now, person = signed_in(request), timezone.now(), _kept(request, pk)
    return form_page(
        request,
        TitreForm(request.POST or None),
        lambda said: titre_record(actor=user, person=person, now=now, **said),
        _titre_add_step(person),
    )


def _titre_add_step(person: Person) -> Step:
    return Step(
        title=_named(_("Add a titre for %(person)s"), person),
        submit=_("Add the titre"),
        back=reverse("person", args=[person.pk]),
        done=lambda titre: [_titre_told(titre)],
        site=person.site,
    )


def _titre_told(titre: Titre) -> tuple[int, str]:
    if titre.counts:
        return messages.SUCCESS, _("The titre is on record; clearance follows it.")
    return messages.WARNING, _("On record, but it counts for nothing until the laboratory's report is seen.")


@page(OFFICER, LIAISON)
def titre_end(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    titres = Titre.everything.select_related("person").filter(person__in=records_kept_by(user))
    titre = get_object_or_404(titres, pk=pk)
    return form_page(
        request,
        VoidForm(request.POST or None),
        lambda data: titre_void(actor=user, titre=titre, reason=data["reason"], now=now),
        _titre_end_step(titre),
    )


def _titre_end_step(titre: Titre) -> Step:
    return Step(
        title=_("Void the titre of %(day)s of %(person)s")
        % {"day": date_format(titre.taken_on), "person": titre.person.name},
        submit=_("Void the titre"),
        back=reverse("person", args=[titre.person_id]),
        done=_("The titre is voided and no longer counts."),
        site=titre.person.site,
    )


@page(OFFICER, LIAISON)
def briefing_add(request: HttpRequest, pk: int) -> HttpResponse:
    user, now, person = signed_in(request), timezone.now(), _kept(request, pk)
    return form_page(
        request,
        BriefingForm(request.POST or None, initial={"held_on": person.site.local_date(now)}),
        lambda data: briefing_record(actor=user, person=person, now=now, **data),
        _briefing_add_step(pk, person),
    )


def _briefing_add_step(pk: int, person: Person) -> Step:
    return Step(
        title=_named(_("Add a safety briefing for %(person)s"), person),
        submit=_("Add the briefing"),
        back=reverse("person", args=[pk]),
        done=_("The briefing is on record; clearance follows it."),
    )


@page(OFFICER, LIAISON)
def hold_add(request: HttpRequest, pk: int) -> HttpResponse:
    user, now, person = signed_in(request), timezone.now(), _kept(request, pk)
    return form_page(
        request,
        HoldForm(request.POST or None, initial={"starts_on": person.site.local_date(now)}),
        lambda said: _placed(hold_place(actor=user, person=person, now=now, **said), now),
        _hold_add_step(pk, person),
    )


def _placed(hold: Hold, now: datetime) -> Hold:
    """The hold placed now; raises `Conflict` for the one that stood already."""
    if hold.placed_at != now:
        since = {"day": date_format(hold.starts_on)}
        raise Conflict(_("Already held since %(day)s; release that hold first.") % since)
    return hold


def _hold_add_step(pk: int, person: Person) -> Step:
    return Step(
        title=_named(_("Hold %(person)s"), person),
        submit=_("Hold from field work"),
        back=reverse("person", args=[pk]),
        done=_("The person is held and off the coming rosters."),
    )


@page(OFFICER)
def hold_end(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    holds = Hold.objects.select_related("person__site").filter(person__in=people_managed_by(user))
    hold = get_object_or_404(holds, pk=pk)
    if hold.released_at is not None and request.method != "POST":
        raise Http404
    yesterday = hold.person.site.local_date(now) - timedelta(days=1)
    return form_page(
        request,
        ReleaseForm(request.POST or None, initial={"last_day": max(yesterday, hold.starts_on)}),
        lambda said: hold_release(actor=user, hold=hold, now=now, **said),
        _hold_end_step(hold),
    )


def _hold_end_step(hold: Hold) -> Step:
    from_bite = hold.source != "officer"
    words = _(
        "This hold follows an exposure. It ends by itself when the clinic visit is recorded; release it by hand "
        "only when the clinician has said so."
    )
    return Step(
        title=_named(_("Release %(person)s from the hold"), hold.person),
        submit=_("Release"),
        back=reverse("person", args=[hold.person_id]),
        done=_("The hold is released; clearance follows it."),
        before=(words,) if from_bite else (),
        site=hold.person.site if from_bite else None,
    )
