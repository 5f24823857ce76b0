"""Before a crew leaves and after it is back: one question after the other, for a phone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from safety.models import Clinic, CrewReturn, Departure, Stock, Task
from safety.services.crew_day.crew_roll import Absent, Joining, Roll
from safety.services.crew_day.departure_answers import Answers
from safety.services.crew_day.returns import MOST_DOGS, MOST_PEOPLE, Worked
from staff.doors.fields import ColumnText
from staff.models import Assignment, CrewRole, Person, Site, Withdrawal

JOINS = ("joins1", "joins2")
# As the phone's page counts them; what a phone counted at another task is asked for as well.
HANDLED = (Task.NETTING, Task.HOLDING, Task.INJECTING, Task.COLLARING, Task.HELD_BY_OWNER)
_YES_NO = [("yes", _("yes")), ("no", _("no"))]


def yes_no(label: Any, help_text: Any = "") -> forms.TypedChoiceField:
    """Nothing is chosen beforehand: an answer nobody gave is none."""
    return forms.TypedChoiceField(
        label=label,
        help_text=help_text,
        choices=_YES_NO,
        widget=forms.RadioSelect,
        coerce=lambda value: value == "yes",
        error_messages={"required": _("Answer yes or no.")},
    )


class ReasonWhenMissing(ColumnText):
    """Needed only where something is missing, and therefore not called optional either."""

    has_answer = True


class CountField(forms.IntegerField):
    """Empty is zero, or is asked back by the service: not called optional."""

    has_answer = True


def stock_field(label: Any) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label, choices=Stock.choices, initial=Stock.UNKNOWN, widget=forms.RadioSelect
    )


@dataclass(frozen=True)
class PersonRow:
    """Somebody of the crew with the fields about them."""

    assignment: Assignment
    fields: list[forms.BoundField]


class LeavingForm(forms.Form):
    """Offers `clear` people in place of others; anybody of the site is understood, so that a refusal can say why."""

    helmets = yes_no(_("a helmet for everybody who rides"))
    clothing = yes_no(_("long trousers and shoes that close over the toes, on everybody"))
    kit = yes_no(
        _("the kit is complete"),
        _("Soap and water for washing, sharps box, vaccine, needles, collars, forceps."),
    )
    clinic = forms.ModelChoiceField(
        Clinic.objects.none(), label=_("clinic of the day"), required=False, empty_label=_("none")
    )
    clinic_open = yes_no(_("it was telephoned today and is open while the crew is out"))
    vaccine = stock_field(_("vaccine, as it said"))
    immunoglobulin = stock_field(_("immunoglobulin, as it said"))
    briefing = yes_no(
        _("the briefing was given"),
        _("Where to go today, who does what, what to do when somebody is bitten."),
    )
    missing_reason = ReasonWhenMissing(
        Departure,
        "missing_reason",
        label=_("why the crew goes without, where something is missing"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_(
            "Needed whenever an answer is “no” or not known, or somebody is missing. The officers are told."
        ),
    )

    def __init__(
        self,
        *args: Any,
        crew: Sequence[Assignment],
        site: Site,
        clear: Sequence[Person],
        clinics: Sequence[Clinic],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.crew, self.clear = crew, clear
        self.site = site
        for row in crew:
            self._ask_about(row)
        for name in JOINS:
            self.fields[name] = self._somebody(_("somebody else who comes along"), clear)
            self.fields[f"{name}_role"] = forms.ChoiceField(
                label=_("as"), choices=[("", _("choose")), *CrewRole.choices], required=False
            )
        # As the page asks, so that the summary of errors goes down the page too.
        self.order_fields([name for name in self.fields if name not in self.base_fields])
        clinic = self.fields["clinic"]
        assert isinstance(clinic, forms.ModelChoiceField)
        clinic.queryset = site.clinics.filter(active=True)
        named = [(one.pk, f"{one.name}, {one.phone}") for one in clinics]
        clinic.widget.choices = [("", _("none")), *named]

    def _ask_about(self, row: Assignment) -> None:
        who = {"person": row.person.name}
        able = [one for one in self.clear if row.role in {held.role for held in one.crew_roles.all()}]
        self.fields[f"here{row.person_id}"] = yes_no(_("%(person)s is here") % who)
        self.fields[f"why{row.person_id}"] = ReasonWhenMissing(
            Withdrawal,
            "reason",
            label=_("why %(person)s isn't here") % who,
            required=False,
            help_text=_("Kept with the roster; nothing about anybody's health."),
        )
        self.fields[f"instead{row.person_id}"] = self._somebody(
            _("who goes in place of %(person)s") % who, able
        )

    def _somebody(self, label: Any, offered: Iterable[Person]) -> forms.ModelChoiceField:
        people = Person.objects.filter(site=self.site).select_related("site__rules")
        field = forms.ModelChoiceField(people, label=label, required=False)
        field.widget.choices = [
            ("", _("nobody")),
            *((one.pk, f"{one.name} ({one.number})") for one in offered),
        ]
        return field

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        for row in self.crew:
            here, key = data.get(f"here{row.person_id}"), row.person_id
            if here is False and not data.get(f"why{key}"):
                self.add_error(f"why{key}", _("Say why; the reason stays with the record."))
            if here and data.get(f"instead{key}"):
                self.add_error(f"instead{key}", _("This person is here; take back one of the two."))
        for name in JOINS:
            if bool(data.get(name)) != bool(data.get(f"{name}_role")):
                self.add_error(name, _("Choose the person and the crew role, or neither."))
        return data

    def roll(self) -> Roll:
        data = self.cleaned_data
        absent = [row.person_id for row in self.crew if not data[f"here{row.person_id}"]]
        return Roll(
            here=frozenset(row.person_id for row in self.crew) - set(absent),
            absent=tuple(Absent(key, data[f"why{key}"], data[f"instead{key}"]) for key in absent),
            joining=tuple(Joining(data[name], data[f"{name}_role"]) for name in JOINS if data[name]),
        )

    def answers(self) -> Answers:
        return Answers(**{name: self.cleaned_data[name] for name in self.base_fields})

    def people_rows(self) -> list[PersonRow]:
        names = ("here", "why", "instead")
        return [PersonRow(row, [self[f"{name}{row.person_id}"] for name in names]) for row in self.crew]

    def joining_rows(self) -> list[list[forms.BoundField]]:
        return [[self[name], self[f"{name}_role"]] for name in JOINS]


def count_field(label: Any, most: int, **more: Any) -> CountField:
    more = {"widget": forms.NumberInput(attrs={"inputmode": "numeric"})} | more
    return CountField(label=label, min_value=0, max_value=most, **more)


class ReturnForm(forms.Form):
    hours = forms.DecimalField(
        label=_("hours of work of one person"),
        min_value=0,
        max_value=24,
        max_digits=4,
        decimal_places=2,
        help_text=_("With the way there and back; where they differ, what most worked."),
    )
    people = count_field(_("people who worked"), MOST_PEOPLE)
    dogs = count_field(_("dogs handled in all"), MOST_DOGS, help_text=_("Each dog once, whatever was done."))
    incidents = count_field(
        _("incidents"),
        1000,
        required=False,
        help_text=_("Bites, scratches, licks, splashes, needles, the road. Report each one as well."),
    )
    near_misses = count_field(_("near misses"), 1000, required=False)
    none_said = forms.BooleanField(label=_("none: neither incident nor near miss"), required=False)
    sharps_disposed = yes_no(_("sharps disposed of"))
    sharps_note = ColumnText(CrewReturn, "sharps_note", label=_("where, or why not"))
    note = ColumnText(CrewReturn, "note", label=_("note"), required=False)

    def __init__(self, *args: Any, counted: Mapping[str, int], people: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.update({f"task-{task}": dogs for task, dogs in counted.items()})
        self.initial.update(people=people or None, dogs=max(counted.values(), default=None))
        self.tasks = [task for task in Task if task in HANDLED or counted.get(task)]
        for task in self.tasks:
            self.fields[f"task-{task}"] = count_field(task.label, MOST_DOGS, required=False)

    def worked(self) -> Worked:
        said = dict(self.cleaned_data)
        tallies = {task.value: said.pop(f"task-{task}") or 0 for task in self.tasks}
        said["incidents"], said["near_misses"] = said["incidents"] or 0, said["near_misses"] or 0
        return Worked(**said, tallies=tallies)

    def task_fields(self) -> list[forms.BoundField]:
        return [self[f"task-{task}"] for task in self.tasks]
