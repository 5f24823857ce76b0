"""The report of a bite: few questions, "don't know" everywhere, nothing that must be typed."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import MAXYEAR, MINYEAR, UTC, date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from safety.models import Animal, Answer, BodySite, Cause, ContactKind, Kind, Task
from safety.services.case.incident_facts import IncidentReport, WoundReport
from staff.doors.fields import WholeText
from staff.models import Person

# What a report of each kind says about the contact when the reader leaves that question out.
CONTACT_OF_KIND = {
    Kind.BITE: ContactKind.BITTEN,
    Kind.SCRATCH: ContactKind.SCRATCHED,
    Kind.SPLASH: ContactKind.SPLASHED,
    Kind.NEEDLESTICK: ContactKind.NEEDLESTICK,
    Kind.LICK: ContactKind.UNKNOWN,
    Kind.OTHER: ContactKind.UNKNOWN,
}


def check_year(day: date) -> None:
    """Refuse the calendar's first and last year: their instants can't be reckoned in every zone."""
    if not MINYEAR < day.year < MAXYEAR:
        raise forms.ValidationError(_("This can't be right; check the year."))


class PersonChoice(forms.ModelChoiceField):
    def label_from_instance(self, obj: Person) -> str:
        return f"{obj.name} ({obj.number})"


def _radios(label: Any, choices: Iterable[Any], help_text: Any = "") -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label,
        choices=list(choices),
        initial=Answer.UNKNOWN,
        widget=forms.RadioSelect,
        help_text=help_text,
    )


class ReportForm(forms.Form):
    """`people` are those the reader may report for; one alone is not asked for."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    # Filled by the wash clock on the page, from the instants its buttons were pressed.
    wash_started_at = forms.DateTimeField(
        required=False, widget=forms.HiddenInput, label=_("washing started")
    )
    wash_stopped_at = forms.DateTimeField(
        required=False, widget=forms.HiddenInput, label=_("washing stopped")
    )
    person = PersonChoice(label=_("who"), queryset=Person.objects.none(), empty_label=_("choose a person"))
    kind = forms.ChoiceField(label=_("what happened"), choices=Kind.choices, widget=forms.RadioSelect)
    day = forms.DateField(
        label=_("date"),
        validators=[check_year],
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
    )
    clock = forms.TimeField(
        label=_("time"),
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        help_text=_("As clocks showed it where it happened; about is good enough."),
    )
    contact = forms.ChoiceField(
        label=_("the contact"),
        required=False,
        choices=[("", _("as ticked above")), *ContactKind.choices],
    )
    body_site = forms.ChoiceField(
        label=_("where on the body"), choices=BodySite.choices, initial=BodySite.UNKNOWN
    )
    broke_skin = _radios(_("is the skin broken?"), Answer.choices)
    bled = _radios(_("did it bleed?"), Answer.choices)
    washed_minutes = forms.IntegerField(
        label=_("minutes washed"),
        required=False,
        min_value=0,
        max_value=180,
        help_text=_("0: not washed. Empty: nobody knows yet, or the clock above was used."),
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )
    soap = _radios(_("with soap?"), Answer.choices)
    animal = forms.ChoiceField(label=_("animal"), choices=Animal.choices, initial=Animal.UNKNOWN)
    task = forms.ChoiceField(label=_("what were you doing?"), choices=Task.choices, initial=Task.UNKNOWN)
    causes = forms.MultipleChoiceField(
        label=_("why did it happen?"),
        required=False,
        choices=Cause.choices,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Tick all that fit; nobody is blamed for an answer."),
    )
    narrative = forms.CharField(
        label=_("in your words"), required=False, widget=forms.Textarea(attrs={"rows": 3})
    )

    def __init__(self, *args: Any, people: QuerySet[Person], ask_person: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if ask_person:
            self.fields["person"].queryset = people  # type: ignore[attr-defined]
        else:
            del self.fields["person"]

    def happened_at(self, zone: ZoneInfo) -> datetime | None:
        """The local date and time as an instant; None for a time the clocks of `zone` left out."""
        return local_instant(self.cleaned_data["day"], self.cleaned_data["clock"], zone)

    def report(self, happened_at: datetime) -> IncidentReport:
        said = self.cleaned_data
        return IncidentReport(
            kind=said["kind"],
            happened_at=happened_at,
            wounds=self._wounds(),
            animal=said["animal"],
            task=said["task"],
            causes=tuple(said["causes"]),
            narrative=said["narrative"],
            washed_minutes=said["washed_minutes"],
            soap=said["soap"],
            wash_started_at=said["wash_started_at"],
            wash_stopped_at=said["wash_stopped_at"],
        )

    def _wounds(self) -> tuple[WoundReport, ...]:
        said = self.cleaned_data
        contact = said["contact"] or CONTACT_OF_KIND.get(said["kind"])
        if contact is None:
            return ()
        return (
            WoundReport(
                contact=str(contact),
                body_site=said["body_site"],
                broke_skin=said["broke_skin"],
                bled=said["bled"],
            ),
        )


class CardCodeForm(forms.Form):
    """For who isn't signed in and has a card; what was typed is never shown again."""

    card_code = WholeText(
        label=_("code of your card"),
        required=False,
        max_length=80,
        widget=forms.PasswordInput(attrs={"autocomplete": "off"}, render_value=False),
        help_text=_("From the team card, instead of user name and password. Hyphens don't matter."),
    )


def local_instant(day: date, clock: time, zone: ZoneInfo) -> datetime | None:
    """A wall time as an instant; an hour the clocks repeat is its first time round, one they leave out is None."""
    wall = datetime.combine(day, clock.replace(second=0, microsecond=0))
    instant = wall.replace(tzinfo=zone).astimezone(UTC)
    return instant if instant.astimezone(zone).replace(tzinfo=None) == wall else None
