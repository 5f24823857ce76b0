"""Trying a regimen, drafting one, and noting that the authority approved it."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from staff.doors.fields import ColumnSlug, ColumnText, DayField, ReasonField, SiteField, WholeText
from staff.models import (
    LateRuleChoice,
    Purpose,
    Regimen,
    RegimenApproval,
    RegimenMove,
    Route,
    RulesChange,
    Site,
)
from staff.rules.regimen.values import Step
from staff.services.regimen.regimen_drafts import HIGHEST
from staff.services.regimen.regimen_file import MAX_BYTES

MOST_STEPS = 20


class TryForm(forms.Form):
    """Dates to lay over a regimen; nothing is kept. Two more dates than the regimen has steps can be entered."""

    def __init__(self, *args: Any, steps: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.day_names = [f"dose_{number}" for number in range(1, steps + 3)]
        for number, name in enumerate(self.day_names, start=1):
            label = _("Date %(number)d") % {"number": number}
            self.fields[name] = DayField(label=label, required=False)
        self.fields["on"] = DayField(
            label=_("As things stand on"), help_text=_("Doses after this date don't count yet.")
        )
        self.fields["route"] = forms.ChoiceField(
            label=_("Route"), choices=[("", _("not stated")), *Route.choices], required=False
        )
        self.fields["late_rule"] = forms.ChoiceField(
            label=_("When a dose is late"), choices=LateRuleChoice.choices, required=False
        )
        self.fields["restart_after_days"] = forms.IntegerField(
            label=_("Days late after which it starts again"), min_value=1, max_value=3650, required=False
        )

    def days(self) -> list[date]:
        """The dates entered, earliest first."""
        return sorted(filter(None, (self.cleaned_data[name] for name in self.day_names)))


class ApproveForm(forms.Form):
    site = SiteField()
    authority = ColumnText(RegimenApproval, "authority", label=_("Authority that approved it"))
    approved_on = DayField(label=_("Approved on"))
    document = ColumnText(
        RegimenApproval,
        "document",
        label=_("Document"),
        help_text=_("Its number or title, so that others find it."),
    )
    reason = ColumnText(
        RulesChange, "reason", label=_("Why, although somebody loses clearance"), required=False
    )

    def __init__(self, *args: Any, sites: QuerySet[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        site = self.fields["site"]
        assert isinstance(site, SiteField)
        site.queryset = sites


class CopyForm(forms.Form):
    code = ColumnSlug(
        Regimen,
        "code",
        label=_("Code of the draft"),
        help_text=_("Leave it to draft the next version of this regimen; change it for another regimen."),
    )


class WhyForm(forms.Form):
    why = ReasonField(RegimenMove, "why")


class SubmitForm(forms.Form):
    why = ColumnText(
        RegimenMove, "why", label=_("What has changed (for whoever approves it)"), required=False
    )


class RegimenFileForm(forms.Form):
    file = forms.FileField(
        label=_("Regimen file"), widget=forms.FileInput(attrs={"accept": ".json,application/json"})
    )

    def clean_file(self) -> UploadedFile:
        file: UploadedFile = self.cleaned_data["file"]
        if file.size is None or file.size > MAX_BYTES:
            raise forms.ValidationError(_("The file is larger than 1 MB; a regimen table is far smaller."))
        return file


class RegimenForm(forms.Form):
    """What a draft says, but for its steps."""

    name = ColumnText(Regimen, "name", label=_("Name"))
    purpose = forms.ChoiceField(label=_("Purpose"), choices=Purpose.choices)
    routes = forms.MultipleChoiceField(
        label=_("Routes"), choices=Route.choices, widget=forms.CheckboxSelectMultiple
    )
    for_whom = forms.ChoiceField(label=_("For whom"), choices=Regimen.ForWhom.choices)
    source = WholeText(
        label=_("Source"),
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("Where the days come from."),
    )
    source_kind = forms.ChoiceField(label=_("Kind of source"), choices=Regimen.SourceKind.choices)


class NewRegimenForm(RegimenForm):
    code = ColumnSlug(
        Regimen,
        "code",
        label=_("Code of the draft"),
        help_text=_(
            "Letters, digits and hyphens, as in “prep-im-0-7-21”; it stays with every later version."
        ),
    )
    field_order = ("code", "name")


def _days(label: Any, **more: Any) -> forms.IntegerField:
    return forms.IntegerField(label=label, required=False, **{"min_value": 0, "max_value": HIGHEST, **more})


class StepForm(forms.Form):
    """One step; one without a day is left out. What else is empty takes the usual value."""

    day = _days(_("Day"))
    latest_day = _days(_("Last day of the window"), help_text=_("Empty: the day itself."))
    smallest_gap = _days(_("Smallest gap to the step before, days"))
    injections = _days(_("Injections"), min_value=1, max_value=20)
    later = forms.BooleanField(label=_("Keeps a complete series"), required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        day, latest = data.get("day"), data.get("latest_day")
        if "day" not in self.errors and day is None and any(data.get(name) for name in self.fields):
            self.add_error("day", _("Enter the day, or empty the whole step to drop it."))
        if day is not None and latest is not None and latest < day:
            self.add_error("latest_day", _("The window can't end before its day."))
        return data

    def step(self, number: int) -> Step:
        data = self.cleaned_data
        return Step(
            number=number,
            day=data["day"],
            latest_day=data["day"] if data["latest_day"] is None else data["latest_day"],
            smallest_gap=data["smallest_gap"] or 0,
            injections=data["injections"] or 1,
            later=data["later"],
        )


class StepForms(forms.BaseFormSet):
    """The steps of a draft in their order, with two empty ones at the end."""

    def steps(self) -> tuple[Step, ...]:
        filled = [form for form in self.forms if form.cleaned_data.get("day") is not None]
        return tuple(form.step(number) for number, form in enumerate(filled, start=1))


StepFormSet = forms.formset_factory(
    StepForm, formset=StepForms, extra=2, max_num=MOST_STEPS, validate_max=True, absolute_max=MOST_STEPS + 2
)
