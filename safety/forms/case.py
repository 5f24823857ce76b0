"""The steps of a case: washing, referral, visit, decision, course, doses, closing."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from safety.forms.report import check_year
from safety.models import Answer, Clinic, Decision, Incident, Stock
from staff.models import Regimen, Route


def date_field(label: Any, help_text: Any = "") -> forms.DateField:
    return forms.DateField(
        label=label, help_text=help_text, widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
    )


def answer_field(label: Any) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label, choices=Answer.choices, initial=Answer.UNKNOWN, widget=forms.RadioSelect
    )


class ReasonForm(forms.Form):
    """Voids, closings and reopenings say why."""

    reason = forms.CharField(
        label=_("why"),
        max_length=300,
        help_text=_("The reason stays with the record."),
        widget=forms.TextInput,
    )


class CloseForm(ReasonForm):
    """Asks about missing answers only where they are missing."""

    without_details = forms.BooleanField(
        label=_("the rest of the answers won't come; I asked the person"),
        required=False,
        help_text=_("If what you heard calls for a clinic, report it for the person first."),
    )

    def __init__(self, *args: Any, incident: Incident, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if incident.details_at is not None:
            del self.fields["without_details"]


class SoapForm(forms.Form):
    soap = answer_field(_("with soap?"))


class WashForm(forms.Form):
    """Washing written down afterwards, in the site's time."""

    day = date_field(_("date"))
    day.validators.append(check_year)
    started = forms.TimeField(label=_("from"), widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))
    stopped = forms.TimeField(
        label=_("until"), widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )
    soap = answer_field(_("with soap?"))


class ClinicChoice(forms.ModelChoiceField):
    def label_from_instance(self, obj: Clinic) -> str:
        stock = {
            Stock.YES: _("vaccine in stock"),
            Stock.NO: _("no vaccine"),
            Stock.UNKNOWN: _("stock not known"),
        }
        return f"{obj.name}, {obj.phone}: {stock[Stock(obj.vaccine)]}"


class ClinicForm(forms.Form):
    """Base of the steps that name a clinic of the site."""

    clinic = ClinicChoice(label=_("clinic"), queryset=Clinic.objects.none(), empty_label=_("choose a clinic"))

    def __init__(self, *args: Any, clinics: QuerySet[Clinic], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["clinic"].queryset = clinics  # type: ignore[attr-defined]


class ReferralForm(ClinicForm):
    pass


class VisitForm(ClinicForm):
    visited_on = date_field(_("seen on"))
    clinician = forms.CharField(label=_("clinician"), required=False, max_length=120)
    decision = forms.ChoiceField(
        label=_("clinician's decision"), choices=Decision.choices, widget=forms.RadioSelect
    )
    immunoglobulin = answer_field(_("was immunoglobulin given?"))
    note = forms.CharField(
        label=_("note"), required=False, max_length=500, widget=forms.Textarea(attrs={"rows": 3})
    )


class DecisionForm(forms.Form):
    decision = forms.ChoiceField(
        label=_("clinician's decision"),
        choices=[choice for choice in Decision.choices if choice[0] != Decision.PENDING],
        widget=forms.RadioSelect,
    )
    immunoglobulin = answer_field(_("was immunoglobulin given?"))


class RegimenChoice(forms.ModelChoiceField):
    def label_from_instance(self, obj: Regimen) -> str:
        return f"{obj.name} · {obj.get_for_whom_display()} · {obj.code} v{obj.version}"


class CourseForm(forms.Form):
    """Only regimens the site's authority has approved; the clinician says which."""

    regimen = RegimenChoice(
        label=_("regimen the clinician ordered"),
        queryset=Regimen.objects.none(),
        empty_label=_("choose a regimen"),
        help_text=_("Ask the clinician which one; this program proposes none."),
    )
    starts_on = date_field(
        _("first dose expected on"),
        _("Day 0 is the date the first dose is really given; the dates follow it."),
    )

    def __init__(self, *args: Any, regimens: QuerySet[Regimen], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["regimen"].queryset = regimens  # type: ignore[attr-defined]


class AnswerForm(ClinicForm):
    """The answer strip of the letter, its fields in the strip's order."""

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
    immunoglobulin = answer_field(_("immunoglobulin"))
    next_on = date_field(_("next date"), _("As the clinic wrote it. Empty: none is stated."))
    clinician = forms.CharField(label=_("signed by"), required=False, max_length=120)
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

    def visible_fields(self) -> list[forms.BoundField]:
        """The tick only once something was asked back."""
        return [
            field
            for field in super().visible_fields()
            if field.name != "confirmed" or field.errors or field.value()
        ]


class DoseForm(forms.Form):
    given_on = date_field(_("given on"))
    route = forms.ChoiceField(
        label=_("route"), required=False, choices=[("", _("as the regimen says")), *Route.choices]
    )
    injections = forms.IntegerField(
        label=_("injections"), required=False, min_value=1, max_value=8, help_text=_("Empty: not stated.")
    )
    product = forms.CharField(label=_("product"), required=False, max_length=120)
    batch = forms.CharField(label=_("batch"), required=False, max_length=60)
    place = forms.CharField(label=_("where"), required=False, max_length=160)


class CourseEndForm(forms.Form):
    ended_on = date_field(_("ended on"))
    reason = forms.CharField(
        label=_("why"),
        max_length=300,
        help_text=_("All doses given, or the clinician's word and its reason."),
    )
