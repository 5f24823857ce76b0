"""What an officer does with a report that waits for a name: takes it, says whose it is, sets it aside."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from safety.forms.case.case import ReasonForm
from safety.forms.phone.held import PlaceForm
from safety.models import PhoneMessage
from safety.pages.phone.held import officers_site
from safety.selectors.phone.phone import messages_held_for, messages_read_by
from safety.services.phone.held import held_place, held_set_aside, held_take
from staff.doors.form import Step, form_page
from staff.doors.page import OFFICER, page, signed_in
from staff.selectors.access import people_managed_by


def _of_a_report(message: PhoneMessage, words: str) -> tuple[str, ...]:
    """What is to be read before; a count of dogs tells of nobody."""
    return () if message.kind == PhoneMessage.COUNT else (words,)


@page(OFFICER)
def held_taking(request: HttpRequest, key: UUID) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    message = get_object_or_404(messages_held_for(user), key=key, link__isnull=True)
    return form_page(
        request,
        ReasonForm(request.POST or None),
        lambda said: held_take(actor=user, message=message, reason=said["reason"], now=now),
        _held_taking_step(request),
    )


def _held_taking_step(request: HttpRequest) -> Step:
    return Step(
        title=_("Take this report"),
        submit=_("Take it"),
        back=reverse("held-messages"),
        site=officers_site(request),
        done=_("The report waits for you now; open it below."),
        before=(_("It names no link. Once you take it you read it, and the other officers don't."),),
    )


@page(OFFICER)
def held_placing(request: HttpRequest, key: UUID) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    message = get_object_or_404(messages_read_by(user), key=key)
    initial = {"person": message.link.person if message.link else None}
    return form_page(
        request,
        PlaceForm(request.POST or None, people=people_managed_by(user), initial=initial),
        lambda said: held_place(actor=user, message=message, now=now, **said),
        _held_placing_step(request, message),
    )


def _held_placing_step(request: HttpRequest, message: PhoneMessage) -> Step:
    return Step(
        title=_("Say whose report this is"),
        submit=_("Place it"),
        back=reverse("held-messages"),
        site=officers_site(request),
        done=_("The report is placed; the person's case is open."),
        before=_of_a_report(
            message, _("Ask the person first. Whoever was exposed is held until a clinic visit is recorded.")
        ),
    )


@page(OFFICER)
def held_aside(request: HttpRequest, key: UUID) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    message = get_object_or_404(messages_read_by(user), key=key)
    return form_page(
        request,
        ReasonForm(request.POST or None),
        lambda said: held_set_aside(actor=user, message=message, reason=said["reason"], now=now),
        _held_aside_step(request, message),
    )


def _held_aside_step(request: HttpRequest, message: PhoneMessage) -> Step:
    return Step(
        title=_("Set this report aside"),
        submit=_("Set it aside"),
        back=reverse("held-messages"),
        site=officers_site(request),
        done=_("The report is set aside; it is kept with your reason."),
        before=_of_a_report(
            message, _("Only when nobody was hurt, or when everything in it stands in a case.")
        ),
    )
