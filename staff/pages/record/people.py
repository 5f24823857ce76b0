"""People: the page of one record, and adding and changing who is on the team."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from staff.doors.form import Step, form_page
from staff.doors.page import LIAISON as LIAISON_ROLE
from staff.doors.page import MEMBER as MEMBER_ROLE
from staff.doors.page import OFFICER as OFFICER_ROLE
from staff.doors.page import page, signed_in
from staff.forms.record.people import PersonAddForm, PersonEditForm
from staff.models import Person, User
from staff.pages.record.timeline import NARROW, WIDE, draw
from staff.selectors.access import (
    LIAISON,
    OFFICER,
    has_role,
    people_managed_by,
    records_visible_to,
    sites_as,
)
from staff.selectors.record.record_sheet import RecordSheet, record_sheet
from staff.services.audit import audit_look
from staff.services.record.people import person_create, person_update


@page(OFFICER_ROLE, LIAISON_ROLE, MEMBER_ROLE)
def person(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    seen = get_object_or_404(records_visible_to(user), pk=pk)
    audit_look(viewer=user, person=seen, now=now, target="page")
    shown = record_sheet(seen, seen.site.local_date(now))
    return render(request, "staff/person.html", record_context(user, shown))


def record_context(user: User, shown: RecordSheet) -> dict[str, Any]:
    """What the record's templates read; who may add to it, who may clear by it and who may change the person."""
    site = shown.person.site
    keeps, manages = has_role(user, site, OFFICER, LIAISON), has_role(user, site, OFFICER)
    own = shown.person.user_id == user.pk
    return {
        "shown": shown,
        "person": shown.person,
        "site": site,
        "drawings": [draw(shown, WIDE), draw(shown, NARROW)],
        "may_keep": keeps,
        "may_clear": keeps and not own,
        "may_manage": manages,
        "may_release": manages and not own,
    }


@page(OFFICER_ROLE)
def person_add(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    sites = sites_as(user, OFFICER)
    return form_page(
        request,
        PersonAddForm(request.POST or None, sites=sites, initial={"site": sites.first()}),
        lambda said: person_create(actor=user, now=now, **said),
        _person_add_step(),
    )


def _person_add_step() -> Step:
    return Step(
        title=_("Add a person"),
        submit=_("Add to the team"),
        back=reverse("readiness"),
        done=_("The person is on the team. Add the doses on record next."),
        before=(_("Many people at once? Bring them in from a spreadsheet on the import page."),),
    )


@page(OFFICER_ROLE)
def person_edit(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    kept = get_object_or_404(people_managed_by(user).prefetch_related("crew_roles"), pk=pk)
    return form_page(
        request,
        PersonEditForm(request.POST or None, initial=_as_initial(kept)),
        lambda said: person_update(actor=user, person=kept, now=now, **said),
        _person_edit_step(kept),
    )


def _person_edit_step(kept: Person) -> Step:
    return Step(
        title=_("Change %(person)s") % {"person": kept.name},
        submit=_("Keep the changes"),
        back=reverse("person", args=[kept.pk]),
        done=_("The changes are kept; clearance follows them."),
    )


def _as_initial(kept: Person) -> dict[str, Any]:
    names = ("name", "email", "phone", "language", "active_from", "active_until")
    return {name: getattr(kept, name) for name in names} | {
        "crew_roles": [held.role for held in kept.crew_roles.all()]
    }
