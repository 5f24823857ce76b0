"""The animal under observation: begun, checked, ended in words."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from safety.forms.case.case import date_field
from safety.models import Outcome, Seen


class BeginForm(forms.Form):
    described = forms.CharField(
        label=_("which animal"),
        max_length=200,
        help_text=_("Kind, colour, size, marks, collar: so that everybody watches the same one."),
    )
    where = forms.CharField(label=_("where it is kept"), max_length=200, required=False)
    keeper = forms.CharField(
        label=_("who keeps it"),
        max_length=120,
        required=False,
        help_text=_(
            "Name and telephone are shown to the officer and the liaison of the site, and to nobody else."
        ),
    )
    keeper_phone = forms.CharField(
        label=_("keeper's telephone"),
        max_length=40,
        required=False,
        widget=forms.TextInput(attrs={"type": "tel"}),
    )


class CheckForm(forms.Form):
    """A check by the liaison, of today or of an earlier day."""

    day = date_field(_("day"))
    seen = forms.ChoiceField(label=_("how is the animal?"), choices=Seen.choices, widget=forms.RadioSelect)
    note = forms.CharField(label=_("note"), max_length=300, required=False)


class OutcomeForm(forms.Form):
    outcome = forms.ChoiceField(
        label=_("what is known of the animal?"), choices=Outcome.choices, widget=forms.RadioSelect
    )
    known_on = date_field(
        _("on which date"), _("The date it was seen, the sample was taken or the laboratory answered.")
    )
    note = forms.CharField(
        label=_("note"),
        max_length=300,
        required=False,
        help_text=_("Who judged it, and the laboratory's number where there is one."),
    )
