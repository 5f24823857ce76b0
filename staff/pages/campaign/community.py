"""That the community was told of one outing."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from staff.doors.form import Step, form_page
from staff.doors.page import OFFICER, page, signed_in
from staff.forms.campaign.field_plan import ToldForm, VoidToldForm
from staff.models import CommunityNotice, Outing
from staff.selectors.access import outings_managed_by
from staff.selectors.campaign.community import community_notices_kept_by
from staff.services.campaign.community import community_told_record, community_told_void


@page(OFFICER)
def outing_told(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    outing = get_object_or_404(outings_managed_by(user), pk=pk)
    initial = {"told_on": outing.site.local_date(now)}
    return form_page(
        request,
        ToldForm(request.POST or None, moved=outing.moves.exists(), initial=initial),
        lambda said: community_told_record(actor=user, outing=outing, now=now, **said),
        _outing_told_step(pk, outing),
    )


def _outing_told_step(pk: int, outing: Outing) -> Step:
    return Step(
        title=_("The community was told of the outing to %(area)s") % {"area": outing.area},
        submit=_("Record that they were told"),
        back=reverse("outing", args=[pk]),
        done=_("It is on record that they were told."),
    )


@page(OFFICER)
def told_void(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    told = get_object_or_404(community_notices_kept_by(user), pk=pk)
    return form_page(
        request,
        VoidToldForm(request.POST or None),
        lambda data: community_told_void(actor=user, told=told, reason=data["reason"], now=now),
        _told_void_step(told),
    )


def _told_void_step(told: CommunityNotice) -> Step:
    return Step(
        title=_("Take back that %(who)s were told") % {"who": told.who},
        submit=_("Void this word"),
        back=reverse("outing", args=[told.outing_id]),
        done=_("The word is void and stays readable."),
    )
