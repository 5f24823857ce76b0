"""Adding to one person's record, and taking back what was wrong."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from staff.errors import Conflict
from staff.forms.record import BriefingForm, DoseForm, HoldForm, ReleaseForm, TitreForm, VoidForm
from staff.models import Dose, Evidence, Hold, Person, Purpose, Titre
from staff.doors.form import form_page
from staff.doors.page import LIAISON, OFFICER, page, signed_in
from staff.selectors.access import people_managed_by, records_kept_by
from staff.selectors.standing import standing
from staff.services.briefings import briefing_record
from staff.services.records import (
    dose_record,
    dose_void,
    hold_place,
    hold_release,
    titre_record,
    titre_void,
)
from staff.words import next_dose_words


def _kept(request: HttpRequest, pk: int) -> Person:
    return get_object_or_404(records_kept_by(signed_in(request)), pk=pk)


def _named(words: str, person: Person) -> str:
    return words % {"person": person.name}


@page(OFFICER, LIAISON)
def dose_add(request: HttpRequest, pk: int) -> HttpResponse:
    user, now, person = signed_in(request), timezone.now(), _kept(request, pk)
    own, made = person.user_id == user.pk, list[Dose]()

    def record(data: dict[str, Any]) -> None:
        said = {name: value for name, value in data.items() if value}
        made.append(dose_record(actor=user, person=person, now=now, **said))

    return form_page(
        request,
        DoseForm(
            request.POST or None, site=person.site, initial={"evidence": Evidence.NONE} if own else None
        ),
        record,
        title=_named(_("Add a dose for %(person)s"), person),
        submit=_("Add the dose"),
        back=reverse("person", args=[pk]),
        done=lambda: _dose_told(made[0], person.site.local_date(now)),
        intro=_(
            "This is your own record: a dose you add yourself counts once a second person has checked its document."
        )
        if own
        else "",
        caution_site=person.site,
    )


def _dose_told(dose: Dose, today: date) -> tuple[int, str]:
    """That it is on record; and where it doesn't count, why, and when the next would."""
    shown = standing(dose.person, today)
    line = next(line for line in shown.lines if line.dose.pk == dose.pk)
    if line.counts or dose.purpose == Purpose.BOOSTER:
        return messages.SUCCESS, _("The dose is on record; clearance follows it.")
    words = _("On record, but it doesn't count: %(why)s") % {"why": line.words[:1].lower() + line.words[1:]}
    following = map(next_dose_words, shown.readiness.reasons) if dose.verified else ()
    return messages.WARNING, " ".join([words, *following]).strip()


@page(OFFICER, LIAISON)
def dose_end(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    dose = get_object_or_404(
        Dose.objects.select_related("person").filter(person__in=records_kept_by(user)), pk=pk
    )
    return form_page(
        request,
        VoidForm(request.POST or None),
        lambda data: dose_void(actor=user, dose=dose, reason=data["reason"], now=now),
        title=_("Void the dose of %(day)s of %(person)s")
        % {"day": date_format(dose.given_on), "person": dose.person.name},
        submit=_("Void the dose"),
        back=reverse("person", args=[dose.person_id]),
        done=_("The dose is voided and no longer counts."),
    )


@page(OFFICER, LIAISON)
def titre_add(request: HttpRequest, pk: int) -> HttpResponse:
    user, now, person = signed_in(request), timezone.now(), _kept(request, pk)
    made: list[Titre] = []
    return form_page(
        request,
        TitreForm(request.POST or None),
        lambda data: made.append(titre_record(actor=user, person=person, now=now, **data)),
        title=_named(_("Add a titre for %(person)s"), person),
        submit=_("Add the titre"),
        back=reverse("person", args=[pk]),
        done=lambda: _titre_told(made[0]),
        caution_site=person.site,
    )


def _titre_told(titre: Titre) -> tuple[int, str]:
    if titre.counts:
        return messages.SUCCESS, _("The titre is on record; clearance follows it.")
    return messages.WARNING, _("On record, but it counts for nothing until the laboratory's report is seen.")


@page(OFFICER, LIAISON)
def titre_end(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    titres = Titre.objects.select_related("person").filter(person__in=records_kept_by(user))
    titre = get_object_or_404(titres, pk=pk)
    return form_page(
        request,
        VoidForm(request.POST or None),
        lambda data: titre_void(actor=user, titre=titre, reason=data["reason"], now=now),
        title=_("Void the titre of %(day)s of %(person)s")
        % {"day": date_format(titre.taken_on), "person": titre.person.name},
        submit=_("Void the titre"),
        back=reverse("person", args=[titre.person_id]),
        done=_("The titre is voided and no longer counts."),
        caution_site=titre.person.site,
    )


@page(OFFICER, LIAISON)
def briefing_add(request: HttpRequest, pk: int) -> HttpResponse:
    user, now, person = signed_in(request), timezone.now(), _kept(request, pk)
    return form_page(
        request,
        BriefingForm(request.POST or None, initial={"held_on": person.site.local_date(now)}),
        lambda data: briefing_record(actor=user, person=person, now=now, **data),
        title=_named(_("Add a safety briefing for %(person)s"), person),
        submit=_("Add the briefing"),
        back=reverse("person", args=[pk]),
        done=_("The briefing is on record; clearance follows it."),
    )


@page(OFFICER, LIAISON)
def hold_add(request: HttpRequest, pk: int) -> HttpResponse:
    user, now, person = signed_in(request), timezone.now(), _kept(request, pk)

    def place(data: dict[str, Any]) -> None:
        hold = hold_place(actor=user, person=person, now=now, **data)
        if hold.placed_at != now:
            raise Conflict(
                _("Already held since %(day)s; release that hold first.")
                % {"day": date_format(hold.starts_on)}
            )

    return form_page(
        request,
        HoldForm(request.POST or None, initial={"starts_on": person.site.local_date(now)}),
        place,
        title=_named(_("Hold %(person)s"), person),
        submit=_("Hold from field work"),
        back=reverse("person", args=[pk]),
        done=_("The person is held and off the coming rosters."),
    )


@page(OFFICER)
def hold_end(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    hold = get_object_or_404(
        Hold.objects.select_related("person__site").filter(person__in=people_managed_by(user)), pk=pk
    )
    if hold.released_at is not None and request.method != "POST":
        raise Http404
    from_bite = hold.source != "officer"
    yesterday = hold.person.site.local_date(now) - timedelta(days=1)
    return form_page(
        request,
        ReleaseForm(request.POST or None, initial={"last_day": max(yesterday, hold.starts_on)}),
        lambda data: hold_release(actor=user, hold=hold, now=now, **data),
        title=_named(_("Release %(person)s from the hold"), hold.person),
        submit=_("Release"),
        back=reverse("person", args=[hold.person_id]),
        done=_("The hold is released; clearance follows it."),
        intro=_(
            "This hold follows an exposure. It ends by itself when the clinic visit is recorded; release it by hand only when the clinician has said so."
        )
        if from_bite
        else "",  # fmt: skip
        caution_site=hold.person.site if from_bite else None,
    )
