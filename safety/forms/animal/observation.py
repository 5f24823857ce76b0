"""The animal under observation: begun, checked, ended in words."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from safety.forms.case.case import date_field
from safety.models import AnimalCheck, AnimalOutcome, Observation, Outcome, Seen
from staff.doors.fields import ColumnText


class BeginForm(forms.Form):
    described = ColumnText(
        Observation,
        "described",
        label=_("which animal"),
        help_text=_("Kind, colour, size, marks, collar: so that everybody watches the same one."),
    )
    where = ColumnText(Observation, "where", label=_("where it is kept"), required=False)
    keeper = ColumnText(
        Observation,
        "keeper",
        label=_("who keeps it"),
        required=False,
        help_text=_(
            "Name and telephone are shown to the officer and the liaison of the site, and to nobody else."
        ),
    )
    keeper_phone = ColumnText(
        Observation,
        "keeper_phone",
        label=_("keeper's telephone"),
        required=False,
        widget=forms.TextInput(attrs={"type": "tel"}),
    )


class CheckForm(forms.Form):
    """A check by the liaison, of today or of an earlier day."""

    day = date_field(_("day"))
    seen = forms.ChoiceField(label=_("how is the animal?"), choices=Seen.choices, widget=forms.RadioSelect)
    note = ColumnText(AnimalCheck, "note", label=_("note"), required=False)


class OutcomeForm(forms.Form):
    outcome = forms.ChoiceField(
        label=_("what is known of the animal?"), choices=Outcome.choices, widget=forms.RadioSelect
    )
    known_on = date_field(
        _("on which date"), _("The date it was seen, the sample was taken or the laboratory answered.")
    )
    note = ColumnText(
        AnimalOutcome,
        "note",
        label=_("note"),
        required=False,
        help_text=_("Who judged it, and the laboratory's number where there is one."),
    )
