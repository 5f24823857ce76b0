"""Planning a campaign's people and sessions."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from staff.doors.fields import ColumnText, DayField, RowsField, SiteField, WholeText
from staff.ground.purposes import SERIES
from staff.models import Campaign, Regimen, Route, Site
from staff.selectors.record.team import team_of

WEEKDAYS = [
    ("0", _("Monday")),
    ("1", _("Tuesday")),
    ("2", _("Wednesday")),
    ("3", _("Thursday")),
    ("4", _("Friday")),
    ("5", _("Saturday")),
    ("6", _("Sunday")),
]


class CampaignForm(forms.Form):
    """Who is on the list: the staff numbers given, without any everybody who is with the team on the first day."""

    site = SiteField()
    name = ColumnText(Campaign, "name", label=_("Name of the campaign"))
    starts_on = DayField(label=_("First day of field work"))
    regimen = forms.ModelChoiceField(
        Regimen.objects.none(),
        label=_("Pre-exposure regimen"),
        empty_label=None,
        help_text=_("Only regimens the health authority approved are offered."),
    )
    route = forms.ChoiceField(
        label=_("Route"), choices=[("", _("as the regimen has it")), *Route.choices], required=False
    )
    vial_ml = forms.DecimalField(
        label=_("mL in one vial"),
        min_value=Decimal("0.1"),
        max_value=Decimal("99"),
        decimal_places=2,
        initial=Decimal("1.0"),
        help_text=_("Into the muscle one vial serves one injection whatever this says."),
    )
    dose_ml = forms.DecimalField(
        label=_("mL of one injection into the skin"),
        min_value=Decimal("0.05"),
        max_value=Decimal("9"),
        decimal_places=2,
        initial=Decimal("0.1"),
    )
    place = ColumnText(Campaign, "place", label=_("Clinic where the sessions are held"))

    numbers = WholeText(
        label=_("Staff numbers"),
        required=False,
        max_length=20_000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_(
            "Copied from the column of your list, one a line. Empty: everybody with the team that day."
        ),
    )

    def __init__(self, *args: Any, sites: QuerySet[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        site, regimen = self.fields["site"], self.fields["regimen"]
        assert isinstance(site, SiteField)
        assert isinstance(regimen, forms.ModelChoiceField)
        site.queryset = sites
        regimen.queryset = Regimen.objects.filter(
            purpose__in=SERIES, approvals__site__in=sites, approvals__withdrawn_at__isnull=True
        ).distinct()

    def clean(self) -> dict[str, Any]:
        """`people`: those meant, found by number at the site. `route`: the regimen's, where it has only one."""
        data = super().clean() or {}
        self._take_route(data)
        site, starts_on = data.get("site"), data.get("starts_on")
        if not isinstance(site, Site) or starts_on is None:
            return data
        team = team_of(site, starts_on)
        wanted = {part.strip() for part in re.split(r"[\n,;]", data.get("numbers", "")) if part.strip()}
        data["people"] = [person for person in team if not wanted or person.number in wanted]
        if unknown := sorted(wanted - {person.number for person in data["people"]}):
            words = _("Nobody with the team then has the number %(numbers)s.")
            self.add_error("numbers", words % {"numbers": ", ".join(unknown)})
        return data

    def _take_route(self, data: dict[str, Any]) -> None:
        regimen = data.get("regimen")
        if data.get("route") or not isinstance(regimen, Regimen):
            return
        if len(regimen.routes) == 1:
            data["route"] = regimen.routes[0]
        else:
            self.add_error("route", _("This regimen accepts more than one route; choose the campaign's."))


class CampaignPeopleForm(forms.Form):
    people = RowsField(Campaign.objects.none(), label=_("People"), widget=forms.CheckboxSelectMultiple)

    def __init__(self, *args: Any, people: QuerySet[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["people"]
        assert isinstance(field, forms.ModelMultipleChoiceField)
        field.queryset = people


class SessionDaysForm(forms.Form):
    """On which days the clinic can hold sessions."""

    first = DayField(label=_("First possible day"))
    weekdays = forms.MultipleChoiceField(
        label=_("Days of the week"), choices=WEEKDAYS, widget=forms.CheckboxSelectMultiple
    )
    people_at_most = forms.IntegerField(
        label=_("People at one session, at most"), min_value=1, max_value=1000, required=False
    )
