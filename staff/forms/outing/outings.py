"""Outings and who goes on them."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.forms.models import fields_for_model
from django.utils.translation import gettext_lazy as _

from staff.doors.fields import ColumnText, DayField, ReasonField, SiteField
from staff.models import Crew, Method, Outing, OutingMove, Person, Site, Withdrawal
from staff.rules.outing.outing_details import DETAILS, OutingDetails


class WithDetails(forms.Form):
    """One field for each of `OutingDetails`, by its column's label and limits; they come out as one value, `details`."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields.update(fields_for_model(Outing, fields=DETAILS, widgets=_WIDGETS))

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        known = {name: said.pop(name) for name in DETAILS if name in said}
        return said | {"details": OutingDetails(**known)}


_WIDGETS: dict[str, type[forms.Widget] | forms.Widget] = {
    "start_time": forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
    "day_phone": forms.TextInput(attrs={"type": "tel"}),
    "note": forms.Textarea(attrs={"rows": 3}),
}


class DetailsForm(WithDetails):
    """What crews are told of an outing that stands."""


class OutingForm(WithDetails):
    site = SiteField()
    date = DayField(label=_("Date"))
    area = ColumnText(Outing, "area", label=_("Area"))
    method = forms.ChoiceField(label=_("Method"), choices=Method.choices, initial=Method.HOUSE_TO_HOUSE)
    dogs_expected = forms.IntegerField(label=_("Dogs expected"), min_value=0, max_value=100_000, initial=0)
    puppies_expected = forms.IntegerField(
        label=_("Of them puppies"), min_value=0, max_value=100_000, initial=0, required=False
    )
    riders = forms.IntegerField(
        label=_("People who ride there (a helmet each)"),
        min_value=0,
        max_value=200,
        initial=0,
        required=False,
    )
    crews = forms.IntegerField(label=_("Crews"), min_value=1, max_value=12, initial=1)

    def __init__(self, *args: Any, sites: QuerySet[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        site = self.fields["site"]
        assert isinstance(site, SiteField)
        site.queryset = sites

    def clean_puppies_expected(self) -> int:
        return self.cleaned_data["puppies_expected"] or 0

    def clean_riders(self) -> int:
        return self.cleaned_data["riders"] or 0


class AssignForm(forms.Form):
    """Offers `clear` people and crews that haven't left only; anybody of the site and any crew is understood, so that a
    refusal can say why."""

    crew = forms.ModelChoiceField(Crew.objects.none(), label=_("Crew"), empty_label=None)
    person = forms.ModelChoiceField(
        Person.objects.none(),
        label=_("Person"),
        error_messages={"invalid_choice": _("Choose a person of this site.")},
    )
    role = forms.CharField(widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        outing: Outing,
        clear: Iterable[Person],
        asked_off: Collection[int] = (),
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        crew, person = self.fields["crew"], self.fields["person"]
        assert isinstance(crew, forms.ModelChoiceField)
        assert isinstance(person, forms.ModelChoiceField)
        crew.queryset = outing.crews.all()
        crew.widget.choices = [(row.pk, row.name) for row in crew.queryset if row.left_at is None]
        person.queryset = Person.objects.filter(site=outing.site_id).select_related("site__rules")
        person.widget.choices = [
            ("", _("choose")),
            *((one.pk, self._label(one)) for one in clear if one.pk not in asked_off),
            *(
                (one.pk, _("%(who)s, can't come that day") % {"who": self._label(one)})
                for one in clear
                if one.pk in asked_off
            ),
        ]

    @staticmethod
    def _label(person: Person) -> str:
        return f"{person.name} ({person.number})"


class WithdrawForm(forms.Form):
    reason = ReasonField(Withdrawal, "reason", label=_("Why is this person taken off?"))


class MoveForm(forms.Form):
    date = DayField(
        label=_("New date"), help_text=_("Whoever isn't clear on the new date is taken off the roster.")
    )
    reason = ReasonField(
        OutingMove,
        "reason",
        label=_("Why it is moved"),
        required=False,
        help_text=_("Everybody on it is told the new date; tell owners and neighbours too."),
    )


class CancelForm(forms.Form):
    reason = ReasonField(
        Outing,
        "cancel_reason",
        label=_("Why is the outing cancelled?"),
        help_text=_("Everybody is taken off the roster."),
    )
