"""Entries of the immunisation record. What may be kept is decided by staff.services.record.records."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from staff.doors.fields import ColumnText, DayField, ReasonField
from staff.models import (
    Briefing,
    DateKnown,
    Dose,
    Evidence,
    Hold,
    Purpose,
    Regimen,
    Route,
    Site,
    Titre,
    TitreEvidence,
)
from staff.selectors.regimen.regimens import approved_at, regimens_known


class DoseForm(forms.Form):
    given_on = DayField(label=_("Given on"))
    date_known = forms.ChoiceField(
        label=_("How exact is the date?"),
        choices=DateKnown.choices,
        initial=DateKnown.DAY,
        required=False,
        help_text=_(
            "With only the month known, give any day of that month. The dose counts from the month's last day, and "
            "only if it kept its gap even when given on the first."
        ),
    )
    purpose = forms.ChoiceField(label=_("Purpose"), choices=Purpose.choices, initial=Purpose.PRE_EXPOSURE)
    route = forms.ChoiceField(
        label=_("Route"), choices=[("", _("the document doesn't say")), *Route.choices], required=False
    )
    evidence = forms.ChoiceField(label=_("Evidence"), choices=Evidence.choices, widget=forms.RadioSelect)
    injections = forms.IntegerField(
        label=_("Injections on that day"), required=False, min_value=1, max_value=8
    )
    regimen = forms.ModelChoiceField(
        regimens_known(),
        label=_("Regimen"),
        required=False,
        empty_label=_("not stated"),
        help_text=_(
            "Needed for the doses of a post-exposure course: they count under the regimen they were given by."
        ),
    )
    product = ColumnText(Dose, "product", label=_("Product"), required=False)
    batch = ColumnText(Dose, "batch", label=_("Batch"), required=False)
    place = ColumnText(Dose, "place", label=_("Where"), required=False)

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        """The regimens the site's authority approved come first; a dose given elsewhere may follow another."""
        super().__init__(*args, **kwargs)
        field, others = self.fields["regimen"], regimens_known()
        assert isinstance(field, forms.ModelChoiceField)
        own = approved_at(site, *Purpose).order_by("purpose", "code", "version").distinct()
        rest = others.exclude(pk__in=own)
        field.choices = [
            ("", field.empty_label),
            (_("approved for the site"), [(row.pk, field.label_from_instance(row)) for row in own]),
            (
                _("another, not approved for the site"),
                [(row.pk, field.label_from_instance(row)) for row in rest],
            ),
        ]

    def clean(self) -> dict[str, object]:
        data = super().clean() or {}
        regimen, purpose = data.get("regimen"), data.get("purpose")
        if isinstance(regimen, Regimen) and regimen.purpose != purpose:
            self.add_error("regimen", _("This regimen has another purpose; choose one that fits the dose."))
        return data


class VoidForm(forms.Form):
    reason = ReasonField(
        label=_("Why is this entry wrong?"),
        help_text=_("The entry stays readable but no longer counts. Its date can then be entered again."),
    )


class TitreForm(forms.Form):
    taken_on = DayField(label=_("Blood taken on"))
    iu_per_ml = forms.DecimalField(
        label=_("Titre in IU/mL"),
        max_digits=7,
        decimal_places=2,
        min_value=0,
        help_text=_("0.5 IU/mL and above is adequate."),
    )
    as_reported = forms.BooleanField(
        label=_("It is above 100 IU/mL, and the laboratory's report says so"), required=False
    )
    evidence = forms.ChoiceField(label=_("Evidence"), choices=TitreEvidence.choices, widget=forms.RadioSelect)
    laboratory = ColumnText(Titre, "laboratory", label=_("Laboratory"), required=False)


class BriefingForm(forms.Form):
    held_on = DayField(label=_("Briefing held on"))
    held_by = ColumnText(Briefing, "held_by", label=_("Who held it"), required=False)


class HoldForm(forms.Form):
    starts_on = DayField(label=_("Held from"))
    reason = ReasonField(
        Hold,
        "reason",
        label=_("Why"),
        help_text=_(
            "The person, the officer and the liaison read this. Keep it short; no diagnosis is needed."
        ),
    )


class ReleaseForm(forms.Form):
    last_day = DayField(label=_("Last day held"), help_text=_("Field work is possible from the day after."))
    note = ReasonField(Hold, "release_note", label=_("Why is it released?"))
