"""One person on one day of the roster: put on, take off, move, hand over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from staff.doors.form import After, Outcome, attempt, told
from staff.doors.page import OFFICER, page, signed_in
from staff.forms.outing.roster import HandOverForm, SeatForm, TakeOffForm
from staff.models import Assignment, Crew, CrewRole, DayWish, Person
from staff.pages.outing.roster_days import USUAL_DAYS, roster_query
from staff.pages.outing.roster_undo import remember, seat_of
from staff.selectors.access import people_managed_by
from staff.selectors.outing.roster_board import YEARS, RosterBoard, TeamMember, roster_board
from staff.selectors.record.clear_from import clear_from
from staff.services.audit import audit_look
from staff.services.outing.roster import roster_assign, roster_withdraw
from staff.services.outing.roster_changes import Seat, roster_replace


@dataclass(frozen=True)
class Change:
    """What was changed: `made` assignments, and who is `gone` from which seat."""

    words: str
    made: Sequence[Assignment] = ()
    gone: Sequence[Seat] = ()


class CellPage:
    """What the page knows of the person and the day, its forms, and what each does."""

    def __init__(self, request: HttpRequest, person: Person, day: date, now: datetime) -> None:
        self.request, self.person, self.day, self.now = request, person, day, now
        self.user, self.site = signed_in(request), person.site
        self.board: RosterBoard = roster_board(self.site, day, 1)
        member = self.board.by_person.get(person.pk)
        if member is None:
            raise Http404
        self.member: TeamMember = member
        self.held: Assignment | None = member.assigned.get(day)
        self.act = request.POST.get("act", "")

    def forms(self) -> dict[str, forms.Form]:
        """The forms that make sense here, by the name of what they do; the posted one is bound."""
        ahead, clear = self.day >= self.site.local_date(self.now), self.member.clear_on(self.day)
        found: dict[str, forms.Form] = {}
        if not ahead:
            return found
        seats = self.seats()
        tired = self.held is None and self.member.misses_day_off(self.day, self.board.rest)
        if clear and seats:
            found["move" if self.held else "put-on"] = SeatForm(
                self._data("move" if self.held else "put-on"), seats=seats, tired=tired
            )
        if self.held:
            if (people := self.stand_ins(self.held.role)) or self.act == "hand-over":
                found["hand-over"] = HandOverForm(self._data("hand-over"), people=people)
            found["take-off"] = TakeOffForm(self._data("take-off"))
        return found

    def _data(self, act: str) -> Any:
        return self.request.POST if self.act == act else None

    def seats(self) -> list[tuple[str, str]]:
        """Places the person could take, those that are needed first; a crew that left takes nobody."""
        needed, more = [], []
        for row in (row for row in self.board.crews if not row.left):
            for role in CrewRole:
                if role not in self.member.roles or (
                    self.held and (self.held.crew_id, self.held.role) == (row.crew.pk, role)
                ):
                    continue
                where = f"{row.outing.area}, {row.crew.name}: {role.label}"
                if row.lacks.get(role):
                    needed.append((f"{row.crew.pk}:{role}", where))
                else:
                    more.append(
                        (f"{row.crew.pk}:{role}", _("%(place)s (one more than needed)") % {"place": where})
                    )
        return [*needed, *more]

    def stand_ins(self, role: str) -> list[Person]:
        """Who could take the place over as it is: clear, free, not asked off and not due for a day off."""
        return [
            one.person
            for one in self.board.team
            if role in one.roles
            and self.day not in one.out
            and one.clear_on(self.day)
            and one.wish(self.day) != DayWish.Kind.CANNOT
            and not one.misses_day_off(self.day, self.board.rest)
        ]

    def do(self, data: dict[str, Any]) -> Change:
        """Carry out the posted form."""
        common: dict[str, Any] = {"actor": self.user, "now": self.now}
        if self.act == "put-on":
            seat = self._seat(data["seat"])
            row = roster_assign(
                outing=seat.crew.outing, crew=seat.crew, person=seat.person, role=seat.role, **common
            )
            return Change(_("%(person)s is on the roster."), made=[row])
        assert self.held is not None
        gone, moved = [seat_of(self.held)], _("The roster was changed.")
        if self.act == "take-off":
            roster_withdraw(assignment=self.held, reason=data["reason"], **common)
            return Change(_("%(person)s is off the roster."), gone=gone)
        if self.act == "move":
            row = roster_replace(assignment=self.held, seat=self._seat(data["seat"]), reason=moved, **common)
            return Change(_("%(person)s has the other place."), made=[row], gone=gone)
        seat = Seat(self.held.crew, data["person"], self.held.role)
        row = roster_replace(assignment=self.held, seat=seat, reason=moved, **common)
        return Change(_("The place of %(person)s is handed over."), made=[row], gone=gone)

    def _seat(self, value: str) -> Seat:
        crew, role = value.split(":")
        row = Crew.objects.select_related("outing__site__rules").get(pk=crew)
        return Seat(row, self.person, role)

    def done(self, change: Change) -> list[tuple[int, str]]:
        """Note how to take it back, and say it."""
        words = change.words % {"person": self.person.name}
        remember(self.request, self.site, words, made=change.made, gone=change.gone)
        return [(messages.SUCCESS, words)]


@page(OFFICER)
def cell(request: HttpRequest, pk: int, day: str) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    person = get_object_or_404(people_managed_by(user), pk=pk)
    shown = CellPage(request, person, _day(day), now)
    back, found = _back(request, shown), shown.forms()
    form = found.get(shown.act)
    if request.method == "POST" and form is None:
        messages.error(request, _("The roster has changed since; look at it again."))
        return redirect(back)
    outcome = attempt(request, form, shown.do) if form else Outcome[Change]()
    if outcome.made is not None:
        return told(request, outcome, After(back=back, done=shown.done))
    context = {"forms": found, "form": form, "back": back, **_around(shown)}
    return render(request, "staff/roster_cell.html", context, status=outcome.status)


def _around(shown: CellPage) -> dict[str, Any]:
    today, readiness = shown.site.local_date(shown.now), shown.member.readiness(shown.day)
    if not readiness.clear:
        target = f"roster:{shown.day.isoformat()}"
        audit_look(viewer=shown.user, person=shown.person, now=shown.now, target=target)
    return {
        "person": shown.person,
        "site": shown.site,
        "day": shown.day,
        "held": shown.held,
        "readiness": readiness,
        "ahead": clear_from([readiness], today)[0],
        "wish": shown.member.wish(shown.day),
        "tired": shown.held is None and shown.member.misses_day_off(shown.day, shown.board.rest),
        "outings": shown.board.crews,
    }


def _day(day: str) -> date:
    try:
        found = date.fromisoformat(day)
    except ValueError as error:
        raise Http404 from error
    if found.year not in YEARS:
        raise Http404
    return found


def _back(request: HttpRequest, shown: CellPage) -> str:
    """The grid that was left, at this person's day."""
    first, days = request.GET.get("first", ""), request.GET.get("days", "")
    try:
        query = roster_query(shown.site, date.fromisoformat(first), int(days))
    except ValueError:
        query = roster_query(shown.site, shown.day, USUAL_DAYS)
    return f"{reverse('roster-grid')}?{query}#c-{shown.person.pk}-{shown.day.isoformat()}"
