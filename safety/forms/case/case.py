"""The steps of a case: washing, referral, visit, decision, course, doses, closing."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from safety.forms.case.report import check_year
from safety.models import Answer, Clinic, Decision, Immunoglobulin, Incident, Stock, Visit
from safety.services.case.immunoglobulin import SAID_BY_LENGTH
from staff.doors.fields import ColumnText, WholeText
from staff.models import Voidable


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

    reason = ColumnText(
        Voidable,
        "void_reason",
        label=_("why"),
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


class AsksBack(forms.Form):
    """A form whose service asks back what is odd; the tick that confirms it shows only then, and last."""

    confirmed = forms.BooleanField(
        label=_("the clinic's paper says so"), required=False, help_text=_("The clinician decides.")
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order_fields([name for name in self.fields if name != "confirmed"])

    def visible_fields(self) -> list[forms.BoundField]:
        return [
            field
            for field in super().visible_fields()
            if field.name != "confirmed" or field.errors or field.value()
        ]


def gift_field() -> forms.ChoiceField:
    return forms.ChoiceField(
        label=_("immunoglobulin"),
        choices=Immunoglobulin.choices,
        initial=Immunoglobulin.UNKNOWN,
        widget=forms.RadioSelect,
    )


def gift_date_field() -> forms.DateField:
    field = date_field(_("immunoglobulin given on"), _("Empty: on the day of the visit, or none was given."))
    field.required = False
    return field


def gift_amount_field() -> forms.CharField:
    return ColumnText(
        Visit,
        "immunoglobulin_amount",
        label=_("amount of immunoglobulin"),
        required=False,
        help_text=_("Exactly as the clinic wrote it; nothing is computed from it."),
    )


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


class VisitForm(AsksBack, ClinicForm):
    visited_on = date_field(_("seen on"))
    clinician = ColumnText(Visit, "clinician", label=_("clinician"), required=False)
    decision = forms.ChoiceField(
        label=_("clinician's decision"), choices=Decision.choices, widget=forms.RadioSelect
    )
    immunoglobulin = gift_field()
    immunoglobulin_on = gift_date_field()
    immunoglobulin_amount = gift_amount_field()
    note = ColumnText(
        Visit, "note", label=_("note"), required=False, widget=forms.Textarea(attrs={"rows": 3})
    )


class DecisionForm(AsksBack):
    decision = forms.ChoiceField(
        label=_("clinician's decision"),
        choices=[choice for choice in Decision.choices if choice[0] != Decision.PENDING],
        widget=forms.RadioSelect,
    )
    immunoglobulin = gift_field()
    immunoglobulin_on = gift_date_field()
    immunoglobulin_amount = gift_amount_field()


class GiftForm(AsksBack, ReasonForm):
    """What became of immunoglobulin that wasn't available at a visit, or that nobody knew of."""

    immunoglobulin = forms.ChoiceField(
        label=_("immunoglobulin"),
        choices=[
            (Immunoglobulin.GIVEN.value, _("given since")),
            (Immunoglobulin.NOT_GIVEN.value, _("the clinician does without it")),
            (Immunoglobulin.UNAVAILABLE.value, _("not available still")),
        ],
        widget=forms.RadioSelect,
    )
    immunoglobulin_on = gift_date_field()
    immunoglobulin_amount = gift_amount_field()
    said_by = WholeText(label=_("who said so"), max_length=SAID_BY_LENGTH)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["immunoglobulin_on"].help_text = _("Only where it was given.")
        self.order_fields(
            ["immunoglobulin", "immunoglobulin_on", "immunoglobulin_amount", "said_by", "reason", "confirmed"]
        )
