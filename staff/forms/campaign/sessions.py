"""Filling in who really came to a vaccination session, and calling one off."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from staff.doors.fields import ColumnText, DayField, ReasonField, WholeText
from staff.models import Dose, Person, Session, SessionPlace, User
from staff.selectors.campaign.sessions import ListLine
from staff.services.campaign.session_notes import Note

Outcome = SessionPlace.Outcome
UNPLANNED_ROWS = 4
AS_ABOVE = ""
OUTCOMES = [
    (AS_ABOVE, _("as chosen above")),
    (Outcome.GIVEN.value, Outcome.GIVEN.label),
    (Outcome.ABSENT.value, Outcome.ABSENT.label),
    (Outcome.REFUSED.value, Outcome.REFUSED.label),
    (Outcome.EXPECTED.value, _("not noted yet")),
]
_OF_A_PLACE = re.compile(r"p(\d+)-\w+")


@dataclass(frozen=True)
class Row:
    """A row of the table: `line` of somebody expected, or None where somebody who came unplanned is named.

    `done`: the dose is on record, so the row shows it and takes no more words. Who fills in the table has no fields
    in the own row.
    """

    name: str
    line: ListLine | None
    done: bool
    fields: dict[str, forms.BoundField]

    @property
    def errors(self) -> list[str]:
        return [str(error) for bound in self.fields.values() for error in bound.errors]


def name_of(person: Person) -> str:
    """How somebody is chosen: a number alone is easily another's."""
    return f"{person.name} · {person.number}"


class GivenForm(forms.Form):
    """What became of everybody: one answer for all, and a row each for whoever it doesn't fit."""

    rest = forms.ChoiceField(
        label=_("Everybody whose row stays “as chosen above”"),
        choices=[
            (Outcome.GIVEN.value, _("came and got the dose as planned")),
            (Outcome.EXPECTED.value, _("isn't noted yet")),
        ],
        initial=Outcome.EXPECTED.value,
        widget=forms.RadioSelect,
    )
    product = ColumnText(Dose, "product", label=_("Product"), required=False)
    batch = ColumnText(Dose, "batch", label=_("Batch"), required=False)

    def __init__(
        self, *args: Any, session: Session, lines: Sequence[ListLine], by: User, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.session = session
        self.lines = {f"p{line.place.pk}": line for line in lines}
        for name, line in self.lines.items():
            closed = line.place.outcome == Outcome.GIVEN or line.place.person.user_id == by.pk
            # A row whose dose is on record and one's own have fields only when they were sent: the service judges them.
            if not closed or f"{name}-outcome" in self.data:
                self._add_expected(name, line.place)
        self.unplanned = [f"new{number}" for number in range(UNPLANNED_ROWS)]
        for name in self.unplanned:
            self._add_unplanned(name)

    def _add_expected(self, name: str, place: SessionPlace) -> None:
        person = f"{place.person.name} ({place.person.number})"
        noted = place.outcome in (Outcome.ABSENT, Outcome.REFUSED)
        self.fields[f"{name}-outcome"] = forms.ChoiceField(
            label=_("What happened, %(person)s") % {"person": person},
            choices=OUTCOMES,
            initial=place.outcome if noted else AS_ABOVE,
            required=False,
        )
        self._add_dose(name, person)
        self.fields[f"{name}-reason"] = ColumnText(
            SessionPlace,
            "reason",
            label=_("Why not, %(person)s") % {"person": person},
            initial=place.reason,
            required=False,
        )

    def _add_unplanned(self, name: str) -> None:
        who = _("row %(row)d of those who came unplanned") % {"row": int(name.removeprefix("new")) + 1}
        self.fields[f"{name}-number"] = WholeText(
            label=_("Person, %(person)s") % {"person": who},
            max_length=200,
            required=False,
            widget=forms.TextInput(attrs={"list": "team", "autocomplete": "off"}),
        )
        self._add_dose(name, who)

    def _add_dose(self, name: str, person: Any) -> None:
        self.fields[f"{name}-given_on"] = DayField(
            label=_("Given on, %(person)s") % {"person": person}, required=False
        )
        self.fields[f"{name}-product"] = ColumnText(
            Dose, "product", label=_("Product, %(person)s") % {"person": person}, required=False
        )
        self.fields[f"{name}-batch"] = ColumnText(
            Dose, "batch", label=_("Batch, %(person)s") % {"person": person}, required=False
        )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        sent = {found[0].split("-")[0] for key in self.data if (found := _OF_A_PLACE.fullmatch(key))}
        if sent - set(self.lines):
            self.add_error(
                None,
                _(
                    "A row that was sent isn't on this session's list (any more). Nothing was kept; look at the "
                    "list as it is now and send it again."
                ),
            )
        for name in self.lines:
            if f"{name}-outcome" in self.fields:
                self._check_expected(name, data)
        self.people = self._find_people(data)
        return data

    def _check_expected(self, name: str, data: dict[str, Any]) -> None:
        """Words that contradict the outcome are pointed out, never dropped."""
        outcome = self._outcome(name, data)
        if outcome == Outcome.GIVEN:
            if data.get(f"{name}-reason"):
                self.add_error(
                    f"{name}-reason",
                    _("A reason belongs to “didn't come” or “not given”; choose one of them or empty this."),
                )
            return
        for one in ("given_on", "product", "batch"):
            if data.get(f"{name}-{one}"):
                self.add_error(f"{name}-{one}", _("Choose “given” for this to be kept, or empty it."))
        if outcome == Outcome.EXPECTED and data.get(f"{name}-reason"):
            self.add_error(f"{name}-reason", _("Choose “didn't come” or “not given”, or empty this."))

    def _find_people(self, data: dict[str, Any]) -> dict[str, Person]:
        """Who came unplanned, by row: people of the session's site, as the list names them or by staff number."""
        numbers = {name: data.get(f"{name}-number", "") for name in self.unplanned}
        team = self.session.site.people.all() if any(numbers.values()) else ()
        known = {one.number: one for one in team} | {name_of(one): one for one in team}
        found: dict[str, Person] = {}
        for name, number in numbers.items():
            if number in known:
                found[name] = known[number]
            elif number:
                self.add_error(f"{name}-number", _("Nobody of this site is called so; choose from the list."))
            elif any(data.get(f"{name}-{one}") for one in ("given_on", "product", "batch")):
                self.add_error(f"{name}-number", _("Choose the person, or empty the row."))
        return found

    def _outcome(self, name: str, data: dict[str, Any]) -> str:
        """The answer for all leaves out whoever has the dose from elsewhere."""
        for_all = Outcome.EXPECTED if self.lines[name].had_on else data.get("rest")
        return str(data.get(f"{name}-outcome") or for_all or Outcome.EXPECTED)

    def notes(self) -> list[Note]:
        """What the valid form says, for the service; rows that say nothing are left out."""
        data = self.cleaned_data
        said: list[Note] = []
        for name, line in self.lines.items():
            if f"{name}-outcome" not in self.fields:
                continue
            outcome, own = self._outcome(name, data), data[f"{name}-outcome"]
            if own or outcome == Outcome.GIVEN:
                said.append(self._note(name, line.place.person_id, outcome, data))
        said += [self._note(name, person.pk, Outcome.GIVEN, data) for name, person in self.people.items()]
        return said

    def came_unplanned(self) -> dict[str, tuple[Person, date]]:
        """Person and day by row, from the valid form."""
        return {
            name: (person, self.cleaned_data[f"{name}-given_on"] or self.session.held_on)
            for name, person in self.people.items()
        }

    def _note(self, name: str, person_id: int, outcome: str, data: dict[str, Any]) -> Note:
        day: date | None = data[f"{name}-given_on"]
        return Note(
            row=name,
            person_id=person_id,
            outcome=outcome,
            given_on=day,
            product=data[f"{name}-product"] or data["product"],
            batch=data[f"{name}-batch"] or data["batch"],
            reason=data.get(f"{name}-reason", ""),
            planned=name in self.lines,
        )

    def look_again(self, lines: Sequence[ListLine]) -> None:
        """Show the list as it is after a refusal: what somebody else noted meanwhile is on record."""
        fresh = {f"p{line.place.pk}": line for line in lines}
        self.lines = {name: fresh.get(name, line) for name, line in self.lines.items()}

    def rows(self) -> Iterator[Row]:
        for name, line in self.lines.items():
            yield Row(name, line, line.place.outcome == Outcome.GIVEN, self._bound(name))

    def unplanned_rows(self) -> Iterable[Row]:
        return [Row(name, None, False, self._bound(name)) for name in self.unplanned]

    def _bound(self, name: str) -> dict[str, forms.BoundField]:
        return {key.split("-", 1)[1]: self[key] for key in self.fields if key.startswith(f"{name}-")}


class SessionCancelForm(forms.Form):
    reason = ReasonField(label=_("Why is the session cancelled?"))
