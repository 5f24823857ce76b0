"""One safety briefing recorded for several people at once."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from staff.doors.form import After, Outcome, attempt, told
from staff.doors.page import OFFICER, page, signed_in
from staff.doors.status import INVALID
from staff.forms.record.briefings import BriefingsForm, WhoForm
from staff.models import User
from staff.selectors.access import Role, sites_as
from staff.selectors.record.briefings import briefing_rows, outings_to_brief, shown_rows, team_to_brief
from staff.services.audit import audit_write
from staff.services.record.briefings import Briefed, briefings_record

# What the buttons of the form ask for; anything else shows the table.
RECORD, TICK, UNTICK = "record", "tick", "untick"


@page(OFFICER)
def briefings_add(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    sites = sites_as(user, Role.OFFICER)
    asked = request.POST if request.method == "POST" else request.GET
    who = WhoForm({"site": sites[0].pk, **asked.dict()}, sites=sites, outings=outings_to_brief(sites, now))
    if not who.is_valid():
        return render(request, "staff/briefings_add.html", {"who": who}, status=INVALID)
    sheet, outcome = _Sheet(request, user, who.cleaned_data, now), Outcome[Briefed]()
    if request.POST.get("do") == RECORD:
        outcome = attempt(request, sheet.form, lambda said: _record(sheet, said))
    if outcome.kept:
        return told(request, outcome, sheet.after)
    return sheet.shown(who, status=outcome.status)


class _Sheet:
    """The table of one site's people as asked for, with who is ticked."""

    def __init__(self, request: HttpRequest, user: User, asked: dict[str, Any], now: datetime) -> None:
        self.request, self.user, self.now = request, user, now
        self.site, self.today = asked["site"], asked["site"].local_date(now)
        people = team_to_brief(self.site, self.today)
        self.rows = briefing_rows(people, self.site, self.today)
        outing = asked["outing"]
        matching = shown_rows(
            self.rows,
            text=asked["text"],
            on_outing=set(outing.assignments.values_list("person", flat=True)) if outing else None,
            lacking=bool(asked["lacking"]),
        )
        self.matching = {row.person.pk for row in matching}
        self.ticked = self._ticked()
        self.form = self._form(people)

    def _ticked(self) -> set[int]:
        do = self.request.POST.get("do")
        if do == UNTICK:
            return set()
        sent = set(self.request.POST.getlist("people"))
        ticked = {row.person.pk for row in self.rows if str(row.person.pk) in sent}
        own = {row.person.pk for row in self.rows if row.person.user_id == self.user.pk}
        return (ticked | self.matching if do == TICK else ticked) - own

    def _form(self, people: Any) -> BriefingsForm:
        sent = self.request.POST
        if sent.get("do") == RECORD:
            return BriefingsForm(sent, people=people)
        first = {"held_on": sent.get("held_on", self.today), "held_by": sent.get("held_by", "")}
        return BriefingsForm(people=people, initial=first)

    @property
    def after(self) -> After:
        board = urlencode({"site": self.site.pk, "on": self.today})
        return After(back=f"{reverse('readiness')}?{board}", done=_told)

    def shown(self, who: WhoForm, *, status: int) -> HttpResponse:
        rows = [row for row in self.rows if row.person.pk in self.matching | self.ticked]
        audit_write(actor=self.user, action="briefings.seen", now=self.now, site=self.site)
        context = {
            "who": who,
            "form": self.form,
            "site": self.site,
            "today": self.today,
            "rows": [(row, row.person.pk in self.ticked) for row in rows],
            "ticked": len(self.ticked),
            "asked_for": self.site.rules.briefing_months is not None,
        }
        return render(self.request, "staff/briefings_add.html", context, status=status)


def _record(sheet: _Sheet, data: dict[str, Any]) -> Briefed:
    return briefings_record(
        actor=sheet.user,
        site=sheet.site,
        people=[person.pk for person in data["people"]],
        held_on=data["held_on"],
        held_by=data["held_by"],
        now=sheet.now,
    )


def _told(done: Briefed) -> list[tuple[int, str]]:
    return [(messages.SUCCESS, _recorded_words(done))]


def _recorded_words(done: Briefed) -> str:
    recorded = ngettext(
        "The briefing is on record for %(n)d person; clearance follows it.",
        "The briefing is on record for %(n)d people; clearance follows it.",
        done.recorded,
    ) % {"n": done.recorded}
    if not done.standing:
        return recorded
    standing = ngettext(
        "%(n)d person had it on record already.", "%(n)d people had it on record already.", done.standing
    ) % {"n": done.standing}
    return f"{recorded} {standing}" if done.recorded else standing + " " + _("Nothing was added.")
