"""The rows of a site's plan about one subject, all on one page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from safety.rules.notices.follow_up import Audience, PlanRow, Subject
from safety.rules.notices.site_plan import FURTHEST, plan_row
from staff.doors.fields import ReasonField
from staff.models import ROLE_WORDS

# Rows a subject may have: more is a slip.
MOST_ROWS = 12


class PlanRowForm(forms.Form):
    """One row; an empty one, or one ticked to be taken out, counts for nothing."""

    offset_days = forms.IntegerField(
        label=gettext_lazy("Days from the date (0: on the day; before it: with a minus)"),
        min_value=-FURTHEST,
        max_value=FURTHEST,
        required=False,
    )
    repeats_daily = forms.BooleanField(label=gettext_lazy("and daily from then on"), required=False)
    hour = forms.IntegerField(
        label=gettext_lazy("Hour, 0 to 23 (empty: the site's hour of reminders)"),
        min_value=0,
        max_value=23,
        required=False,
    )
    audiences = forms.MultipleChoiceField(
        label=gettext_lazy("Who is told"),
        choices=[(audience.value, ROLE_WORDS[audience]) for audience in Audience],
        widget=forms.CheckboxSelectMultiple,
        required=False,
    )
    take_out = forms.BooleanField(label=gettext_lazy("Take this row out"), required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("take_out") or self.errors:
            return data
        days = data.get("offset_days")
        said = data.get("audiences") or data.get("hour") is not None or data.get("repeats_daily")
        if days is None and said:
            self.add_error("offset_days", _("Give the number of days, or take the row out."))
        elif data.get("repeats_daily") and (days or 0) < 1:
            self.add_error("repeats_daily", _("Only a row after the date may repeat; give 1 or more days."))
        return data

    @property
    def counts(self) -> bool:
        return self.cleaned_data.get("offset_days") is not None and not self.cleaned_data.get("take_out")


class PlanFormSet(forms.BaseFormSet):
    """`rows` gives what was entered as values of the rules; ask it only when valid."""

    def rows(self, what: Subject) -> list[PlanRow]:
        return [
            plan_row(
                what,
                form.cleaned_data["offset_days"],
                [audience for audience in Audience if audience in form.cleaned_data["audiences"]],
                repeats_daily=form.cleaned_data["repeats_daily"],
                hour=form.cleaned_data["hour"],
            )
            for form in self.forms
            if form.counts
        ]


PlanRows = forms.formset_factory(
    PlanRowForm, formset=PlanFormSet, extra=1, max_num=MOST_ROWS, validate_max=True, absolute_max=MOST_ROWS
)


def initial_of(rows: Sequence[PlanRow]) -> list[dict[str, Any]]:
    return [
        {
            "offset_days": row.offset_days,
            "repeats_daily": row.repeats_daily,
            "hour": row.hour,
            "audiences": [str(audience) for audience in row.audiences],
        }
        for row in sorted(rows, key=lambda row: row.offset_days)
    ]


class PlanReasonForm(forms.Form):
    reason = ReasonField()
