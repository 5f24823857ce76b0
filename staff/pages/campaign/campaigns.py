"""Campaigns: who can be ready by the start, and the sessions that see to it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import date
from functools import partial
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from staff.doors.form import After, Step, form_page, pressed
from staff.doors.page import LIAISON, OFFICER, page, signed_in
from staff.doors.status import INVALID
from staff.forms.campaign.campaigns import CampaignForm, CampaignPeopleForm, SessionDaysForm
from staff.models import Campaign, Person, Session, Site
from staff.selectors.access import Role, campaigns_managed_by, campaigns_visible_to, has_role, sites_as
from staff.selectors.campaign.campaigns import (
    MemberOutlook,
    Proposal,
    Prospect,
    candidate_days,
    first_day,
    members_outlook,
    propose,
)
from staff.selectors.campaign.sessions import session_lines, vials_of
from staff.selectors.record.team import team_of
from staff.services.audit import audit_write
from staff.services.campaign.campaigns import campaign_create, campaign_people_set, fingerprint, sessions_plan

# Urgent first: who can't be ready, who needs a decision, who needs doses, who is ready.
ORDER = [Prospect.LATE, Prospect.DECISION, Prospect.RECOMPUTE, Prospect.IN_TIME, Prospect.READY]


@page(OFFICER, LIAISON)
def campaigns(request: HttpRequest) -> HttpResponse:
    rows = campaigns_visible_to(signed_in(request))
    return render(request, "staff/campaigns.html", {"rows": rows})


@page(OFFICER)
def campaign_add(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    sites = sites_as(user, Role.OFFICER)
    first = sites.first()
    return form_page(
        request,
        CampaignForm(request.POST or None, sites=sites, initial={"site": first}),
        lambda said: campaign_create(actor=user, now=now, **_without_numbers(said)),
        _campaign_add_step(first),
    )


def _without_numbers(said: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in said.items() if name != "numbers"}


def _campaign_add_step(site: Site | None) -> Step:
    return Step(
        title=_("Plan a campaign"),
        submit=_("See who can be ready"),
        back=reverse("campaigns"),
        done=_("The campaign is set down. Choose the days for its sessions next."),
        then=lambda campaign: reverse("campaign", args=[campaign.pk]),
        site=site,
    )


@page(OFFICER, LIAISON)
def campaign(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    row = get_object_or_404(campaigns_visible_to(user), pk=pk)
    asked, first = "first" in request.GET, first_day(row, now)
    form = SessionDaysForm(request.GET if asked else None, initial={"first": first, "weekdays": ["1", "4"]})
    proposal = _proposal(row, form, row.site.local_date(now), first) if asked and form.is_valid() else None
    audit_write(actor=user, action="campaign.seen", now=now, site=row.site, target=f"campaign:{pk}")
    context = {"form": form, "may_manage": has_role(user, row.site, Role.OFFICER)}
    context |= _outlook(row, proposal, row.site.local_date(now))
    return render(request, "staff/campaign.html", context, status=INVALID if form.errors else 200)


def _outlook(row: Campaign, proposal: Proposal | None, today: date) -> dict[str, Any]:
    members = proposal.members if proposal else members_outlook(row, today)
    return {
        "campaign": row,
        "site": row.site,
        "members": sorted(members, key=lambda member: ORDER.index(member.prospect)),
        "counts": _counts(members),
        "sessions": row.sessions.exclude(state=Session.State.CANCELLED).prefetch_related("places"),
        "proposal": proposal,
        "seen": fingerprint(proposal.plan) if proposal else "",
    }


def _counts(members: Iterable[MemberOutlook]) -> list[tuple[int, str]]:
    found = Counter(member.prospect for member in members)
    words = {
        Prospect.READY: _("ready"),
        Prospect.IN_TIME: _("can still be ready"),
        Prospect.DECISION: _("wait for a decision"),
        Prospect.RECOMPUTE: _("being recomputed"),
        Prospect.LATE: _("to replace"),
    }
    return [(found[prospect], label) for prospect, label in words.items()]


def _proposal(row: Campaign, form: SessionDaysForm, today: date, first: date) -> Proposal:
    return propose(row, today=today, **_days_asked(row, form, first))


def _days_asked(row: Campaign, form: SessionDaysForm, first: date) -> dict[str, Any]:
    asked = form.cleaned_data
    days = candidate_days(row, max(asked["first"], first), map(int, asked["weekdays"]))
    return {"days": days, "people_at_most": asked["people_at_most"]}


@page(OFFICER)
@require_POST
def campaign_plan(request: HttpRequest, pk: int) -> HttpResponse:
    user, now, form = signed_in(request), timezone.now(), SessionDaysForm(request.POST)
    row = get_object_or_404(campaigns_managed_by(user), pk=pk)
    if not form.is_valid():
        messages.error(request, _("Choose the days of the sessions first."))
        return redirect("campaign", pk=pk)
    seen = request.POST.get("seen", "")
    asked = _days_asked(row, form, first_day(row, now))
    return pressed(
        request, partial(sessions_plan, actor=user, campaign=row, seen=seen, now=now, **asked), _planned(pk)
    )


def _planned(pk: int) -> After:
    return After(
        back=reverse("campaign", args=[pk]),
        done=_("The sessions are planned. Print their lists."),
        then=lambda _sessions: reverse("campaign-lists", args=[pk]),
    )


@page(OFFICER)
def campaign_people(request: HttpRequest, pk: int) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    row = get_object_or_404(campaigns_managed_by(user), pk=pk)
    on_list = Person.objects.filter(campaign_memberships__campaign=row)
    people = (team_of(row.site, row.starts_on) | row.site.people.filter(pk__in=on_list)).distinct()
    return form_page(
        request,
        CampaignPeopleForm(request.POST or None, people=people, initial={"people": on_list}),
        lambda said: campaign_people_set(actor=user, campaign=row, people=said["people"], now=now),
        _campaign_people_step(pk, row),
    )


def _campaign_people_step(pk: int, row: Campaign) -> Step:
    return Step(
        title=_("People of %(campaign)s") % {"campaign": row.name},
        submit=_("Keep this list"),
        back=reverse("campaign", args=[pk]),
        done=_(
            "The list is kept. Look at the sessions again: they follow the list only when you plan them anew."
        ),
    )


@page(OFFICER, LIAISON)
def campaign_lists(request: HttpRequest, pk: int) -> HttpResponse:
    """The lists of every session that is not cancelled, one to a sheet of paper."""
    user, now = signed_in(request), timezone.now()
    row = get_object_or_404(campaigns_visible_to(user), pk=pk)
    audit_write(actor=user, action="campaign.seen", now=now, site=row.site, target=f"campaign:{pk} lists")
    sheets = [sheet_of(session) for session in row.sessions.exclude(state=Session.State.CANCELLED)]
    return render(request, "staff/campaign_lists.html", {"campaign": row, "site": row.site, "sheets": sheets})


def sheet_of(session: Session) -> dict[str, Any]:
    """What the list of one session shows."""
    lines = session_lines(session)
    places = [line.place for line in lines if line.had_on is None]
    vials, alone = vials_of(session, places)
    return {"session": session, "lines": lines, "people": len(places), "vials": vials, "alone": alone}
