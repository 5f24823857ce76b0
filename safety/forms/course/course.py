"""The forms of a course: begun, given, changed, moved, ended and taken up again."""

from __future__ import annotations

import zoneinfo
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from safety.forms.case.case import AsksBack, ClinicChoice, ReasonForm, date_field
from safety.models import Clinic, Course, CourseFact, EndKind
from staff.doors.fields import ColumnText
from staff.models import Dose, Regimen, Route

# As many dates as a page asks for at once; a course by name has more only in replaced ones.
DATES_ASKED = 8


class RegimenChoice(forms.ModelChoiceField):
    def label_from_instance(self, obj: Regimen) -> str:
        return f"{obj.name} · {obj.get_for_whom_display()} · {obj.code} v{obj.version}"


def offer(field: forms.Field, regimens: QuerySet[Regimen], listed: set[int] | None) -> None:
    """The approved regimens to choose from: those listed for such a person first. None: the table lists nothing."""
    assert isinstance(field, RegimenChoice)
    field.queryset = regimens
    if listed is None:
        return
    shown = [(regimen.pk, field.label_from_instance(regimen)) for regimen in regimens]
    field.choices = [
        ("", field.empty_label),
        (_("listed for such a person"), [row for row in shown if row[0] in listed]),
        (
            _("for somebody else: only if the clinic's paper says so"),
            [r for r in shown if r[0] not in listed],
        ),
    ]


class DatesForm(forms.Form):
    """Dates as the clinic wrote them, in fields of their own; `cleaned_data["dates"]` holds those filled in."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for number in range(1, DATES_ASKED + 1):
            field = date_field(_("date %(number)d") % {"number": number})
            field.required = False
            self.fields[f"date_{number}"] = field

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        names = [f"date_{number}" for number in range(1, DATES_ASKED + 1)]
        said["dates"] = [day for name in names if (day := said.pop(name, None))]
        return said


class CourseForm(AsksBack):
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

    def __init__(
        self, *args: Any, regimens: QuerySet[Regimen], listed: set[int] | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        offer(self.fields["regimen"], regimens, listed)


class NamedCourseForm(DatesForm):
    regimen_name = ColumnText(
        Course,
        "regimen_name",
        label=_("what the clinician calls the regimen"),
        help_text=_("The dates below are kept as the clinic wrote them; none is computed. Past doses too."),
    )


class WordForm(ReasonForm):
    """Who of the clinic said so, and why."""

    said_by = ColumnText(CourseFact, "said_by", label=_("clinician who said so"))


class NewDatesForm(DatesForm, WordForm):
    """The dates still to come."""


class RegimenForm(AsksBack, DatesForm, WordForm):
    """Another regimen of the table, or one by name with the dates still to come. `seen`: the preview that was shown."""

    regimen = RegimenChoice(
        label=_("new regimen"),
        required=False,
        queryset=Regimen.objects.none(),
        empty_label=_("none of these: by name"),
    )
    regimen_name = ColumnText(
        Course,
        "regimen_name",
        label=_("or what the clinician calls it"),
        required=False,
        help_text=_("Where the table lacks it; then write down the dates still to come."),
    )
    seen = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(
        self, *args: Any, regimens: QuerySet[Regimen], listed: set[int] | None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        offer(self.fields["regimen"], regimens, listed)
        first = ["regimen", "regimen_name"]
        self.order_fields([*first, *(name for name in self.fields if name not in (*first, "confirmed"))])


class PlaceForm(ReasonForm):
    """Where a course goes on, and by whose calendar."""

    clinic = ClinicChoice(
        label=_("clinic of the list"),
        queryset=Clinic.objects.none(),
        required=False,
        empty_label=_("none of these"),
    )
    place = ColumnText(
        Course, "place", label=_("or where it goes on"), required=False, help_text=_("Clinic, town, country.")
    )
    phone = ColumnText(Course, "place_phone", label=_("telephone there"), required=False)
    time_zone = forms.ChoiceField(
        label=_("time zone there"),
        required=False,
        help_text=_("By it a dose is due or overdue, and the person is reminded at the hour there."),
    )

    def __init__(self, *args: Any, clinics: QuerySet[Clinic], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["clinic"].queryset = clinics  # type: ignore[attr-defined]
        zones = [("", _("the same as the site's")), *((z, z) for z in sorted(zoneinfo.available_timezones()))]
        self.fields["time_zone"].choices = zones  # type: ignore[attr-defined]
        self.order_fields(["clinic", "place", "phone", "time_zone", "reason"])


class DoseForm(AsksBack):
    given_on = date_field(_("given on"))
    route = forms.ChoiceField(
        label=_("route"), required=False, choices=[("", _("as the regimen says")), *Route.choices]
    )
    injections = forms.IntegerField(
        label=_("injections"), required=False, min_value=1, max_value=8, help_text=_("Empty: not stated.")
    )
    product = ColumnText(Dose, "product", label=_("product"), required=False)
    batch = ColumnText(Dose, "batch", label=_("batch"), required=False)
    place = ColumnText(Dose, "place", label=_("where"), required=False)


class CourseEndForm(forms.Form):
    ended_on = date_field(_("ended on"))
    kind = forms.ChoiceField(label=_("how it ended"), choices=EndKind.choices, widget=forms.RadioSelect)
    said_by = ColumnText(
        Course,
        "end_said_by",
        label=_("on whose word, or to whom"),
        required=False,
        help_text=_("The clinician who stopped it, or who goes on with it, with a telephone number."),
    )
    reason = ColumnText(
        Course,
        "end_reason",
        label=_("why"),
        help_text=_("All doses given, or the clinician's word and its reason."),
    )


class ResumeForm(ReasonForm):
    said_by = ColumnText(CourseFact, "said_by", label=_("clinician who said so"), required=False)
