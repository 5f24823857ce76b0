"""A clinic of the list: where it is, when it is open, what it has."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.conf import settings
from django.conf.locale import LANG_INFO
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from safety.models import Clinic, Stock
from safety.rules.clinic.clinic_choice import Position
from staff.doors.fields import ColumnText, WholeText
from staff.models import Site
from staff.rules.regimen.values import RuleError

_PLACE = re.compile(r"^(?:geo:)?\s*([+-]?\d{1,3}(?:\.\d+)?)\s*[,;\s]\s*([+-]?\d{1,3}(?:\.\d+)?)$")


class PlaceField(WholeText):
    """Latitude and longitude in one line, as maps show them to be copied."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            label=_("place on the map"),
            required=False,
            max_length=80,
            help_text=_("Latitude, longitude in degrees, such as -1.29210, 36.82190. Empty: not known."),
            **kwargs,
        )

    def clean(self, value: Any) -> Position | None:
        text = super().clean(value).replace("−", "-")
        if not text:
            return None
        parts = _PLACE.match(text)
        if parts is None:
            raise forms.ValidationError(
                _("Give two numbers in degrees with points, such as -1.29210, 36.82190.")
            )
        try:
            return Position(float(parts[1]), float(parts[2]))
        except RuleError as wrong:
            raise forms.ValidationError(
                _("Latitude goes from -90 to 90 and longitude from -180 to 180; check their order.")
            ) from wrong

    def prepare_value(self, value: Any) -> Any:
        return f"{value.latitude:.5f}, {value.longitude:.5f}" if isinstance(value, Position) else value


def hours_field() -> forms.CharField:
    return ColumnText(
        Clinic,
        "hours",
        label=_("opening hours"),
        required=False,
        help_text=_(
            "For example: Mo-Fr 08:00-17:00; Sa 08:00-12:00; PH off. PH are the site's holidays; 24/7 is round the "
            "clock. Empty: not known."
        ),
    )


def language_field() -> forms.ChoiceField:
    languages = [(code, LANG_INFO[code]["name_local"]) for code in settings.LETTER_LANGUAGES]
    return forms.ChoiceField(
        label=_("language of letters to it"),
        required=False,
        choices=[("", _("as at the site")), *languages],
    )


def _stock(label: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=Stock.choices, widget=forms.RadioSelect)


class ClinicConfirmForm(forms.Form):
    vaccine = _stock(_("vaccine"))
    immunoglobulin = _stock(_("immunoglobulin"))
    phone = ColumnText(Clinic, "phone", label=_("telephone"))
    address = ColumnText(Clinic, "address", label=_("address"), required=False)
    hours = hours_field()
    place = PlaceField()
    language = language_field()
    active = forms.BooleanField(label=_("in use: people may be sent there"), required=False)

    @classmethod
    def initial_of(cls, clinic: Clinic, place: Position | None) -> dict[str, Any]:
        """What the form shows of a clinic as it stands."""
        stands = {name: getattr(clinic, name) for name in cls.base_fields if name != "place"}
        return stands | {"place": place}


class ClinicAddForm(forms.Form):
    site = forms.ModelChoiceField(label=_("team"), queryset=Site.objects.none(), empty_label=None)
    name = ColumnText(Clinic, "name", label=_("name"))
    phone = ColumnText(Clinic, "phone", label=_("telephone"))
    address = ColumnText(Clinic, "address", label=_("address"), required=False)
    hours = hours_field()
    place = PlaceField()
    language = language_field()

    def __init__(self, *args: Any, sites: QuerySet[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites  # type: ignore[attr-defined]
