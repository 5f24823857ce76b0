"""The answer strip of the letter, its fields in the strip's order."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from safety.forms.case.case import (
    AsksBack,
    ClinicForm,
    date_field,
    gift_amount_field,
    gift_date_field,
    gift_field,
)
from safety.forms.course.course import RegimenChoice
from safety.models import Decision, Visit
from staff.doors.fields import ColumnText
from staff.models import Regimen


class AnswerForm(AsksBack, ClinicForm):
    visited_on = date_field(_("seen on"))
    decision = forms.ChoiceField(label=_("decision"), choices=Decision.choices, widget=forms.RadioSelect)
    regimen = RegimenChoice(
        label=_("regimen"),
        required=False,
        queryset=Regimen.objects.none(),
        empty_label=_("not stated"),
        help_text=_(
            "Only those the authority has approved. Ask the clinic when the strip names another one."
        ),
    )
    given_on = date_field(
        _("first dose given on"), _("Further doses are recorded on the case. Empty: no dose was given.")
    )
    immunoglobulin = gift_field()
    immunoglobulin_on = gift_date_field()
    immunoglobulin_amount = gift_amount_field()
    next_on = date_field(_("next date"), _("As the clinic wrote it. Empty: none is stated."))
    clinician = ColumnText(Visit, "clinician", label=_("signed by"), required=False)
    confirmed = forms.BooleanField(
        label=_("the clinic's paper says so"),
        required=False,
        help_text=_(
            "The clinician decides. Differing dates stay a step of the case until the dose is given."
        ),
    )

    def __init__(self, *args: Any, regimens: QuerySet[Regimen], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["regimen"].queryset = regimens  # type: ignore[attr-defined]
        for name in ("given_on", "next_on"):
            self.fields[name].required = False
