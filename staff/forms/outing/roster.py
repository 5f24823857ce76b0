"""The days of a roster, and what can be done with one person on one day."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from staff.doors.fields import DayField, ReasonField, SiteField
from staff.models import CrewShape, DayWish, Method, Person, Site, Withdrawal
from staff.selectors.outing.roster_board import YEARS

SPANS = [
    (1, _("one day")),
    (7, _("one week")),
    (14, _("two weeks")),
    (21, _("three weeks")),
    (28, _("four weeks")),
]


class RosterDaysForm(forms.Form):
    site = SiteField()
    first = DayField(label=_("First day"))
    days = forms.TypedChoiceField(label=_("How long"), choices=SPANS, coerce=int)

    def __init__(self, *args: Any, sites: QuerySet[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        site = self.fields["site"]
        assert isinstance(site, SiteField)
        site.queryset = sites

    def clean_first(self) -> date:
        first: date = self.cleaned_data["first"]
        if first.year not in YEARS:
            raise forms.ValidationError(_("Choose a day of this century."))
        return first


class SeatForm(forms.Form):
    """A place on a crew: `seat` is "crew key:crew role". With `tired` the day takes a day off away, which is asked back."""

    seat = forms.ChoiceField(label=_("Place"), widget=forms.RadioSelect)
    over_run = forms.BooleanField(label=_("Put on although a day off is due"), required=False)

    def __init__(self, *args: Any, seats: Sequence[tuple[str, str]], tired: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        seat = self.fields["seat"]
        assert isinstance(seat, forms.ChoiceField)
        seat.choices = seats
        if not tired:
            del self.fields["over_run"]
        else:
            self.fields["over_run"].required = True
            self.fields["over_run"].error_messages["required"] = _(
                "A day off is due then. Choose another day, or tick this if the day off can't be kept."
            )


class HandOverForm(forms.Form):
    person = forms.ModelChoiceField(
        Person.objects.none(),
        label=_("Person"),
        empty_label=_("choose"),
        error_messages={"invalid_choice": _("Choose somebody who is clear and free that day.")},
    )

    def __init__(self, *args: Any, people: Iterable[Person], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        person = self.fields["person"]
        assert isinstance(person, forms.ModelChoiceField)
        person.queryset = Person.objects.filter(pk__in=[one.pk for one in people]).select_related(
            "site__rules"
        )


class TakeOffForm(forms.Form):
    reason = ReasonField(Withdrawal, "reason", label=_("Why"))


class WishForm(forms.Form):
    kind = forms.ChoiceField(label=_("Wish"), choices=DayWish.Kind.choices)
    first_on = DayField(label=_("First day"))
    last_on = DayField(label=_("Last day"), required=False, help_text=_("Empty: the first day alone."))


class CrewShapeForm(forms.Form):
    """People needed by crew role on a crew of one method."""

    def __init__(self, *args: Any, method: str, needed: dict[str, int], **kwargs: Any) -> None:
        kwargs["prefix"] = method
        super().__init__(*args, **kwargs)
        self.method = method
        self.method_name = Method(method).label
        for role, label in CrewShape._meta.get_field("role").choices or ():
            self.fields[str(role)] = forms.IntegerField(
                label=str(label).capitalize(), min_value=0, max_value=9, initial=needed.get(str(role), 0)
            )
