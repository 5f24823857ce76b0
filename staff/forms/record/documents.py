"""Documents behind the record, and the letters that clear an immunocompromised person."""

from __future__ import annotations

from typing import Any

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.db.models import QuerySet
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

from staff.doors.fields import ColumnText, DayField, ReasonField, RowsField
from staff.models import ClearanceLetter, DocumentKind, Dose


class DocumentField(forms.FileField):
    """A PDF or picture; cleaned to its content. What it really is, the service finds out."""

    widget = forms.FileInput(attrs={"accept": "application/pdf,image/jpeg,image/png,image/webp"})

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            **{"label": _("File"), "help_text": _("A PDF or a picture, up to 5 MB."), **kwargs},
            allow_empty_file=True,
        )

    def clean(self, data: Any, initial: Any = None) -> Any:
        found = super().clean(data, initial)
        if not isinstance(found, UploadedFile):
            return found
        # One byte more than allowed is enough for the service to refuse it by size.
        return found.read(settings.CERTIFICATE_MAX_BYTES + 1)


class CertificateForm(forms.Form):
    kind = forms.ChoiceField(
        label=_("What it is"),
        choices=[choice for choice in DocumentKind.choices if choice[0] != DocumentKind.LETTER],
    )
    content = DocumentField()


class LetterForm(forms.Form):
    clinician = ColumnText(ClearanceLetter, "clinician", label=_("Clinician"))
    signed_on = DayField(label=_("Signed on"))
    valid_until = DayField(label=_("Last day it covers"), help_text=_("As the clinician wrote it."))
    content = DocumentField(label=_("The letter"))


class DosesShown(RowsField):
    widget = forms.CheckboxSelectMultiple

    def label_from_instance(self, obj: Dose) -> str:
        return " · ".join(
            part
            for part in (
                date_format(obj.given_on),
                obj.get_purpose_display(),
                obj.get_route_display() if obj.route else "",
                obj.product,
                obj.batch,
            )
            if part
        )


class CheckForm(forms.Form):
    doses = DosesShown(
        Dose.objects.none(),
        label=_("Doses this document shows, exactly as entered"),
        required=False,
        help_text=_("Only doses recorded without a document, by somebody other than you, are listed."),
    )
    seen = forms.BooleanField(
        label=_("I have opened the document, and it is about this person and says what is entered here.")
    )

    def __init__(self, *args: Any, doses: QuerySet[Dose], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["doses"]
        assert isinstance(field, DosesShown)
        field.queryset = doses
        if not doses:
            del self.fields["doses"]


class HealthForm(forms.Form):
    immunocompromised = forms.BooleanField(
        label=_("Immunocompromised"),
        required=False,
        help_text=_("Then field work needs a clinician's letter too, and the program proposes no dose."),
    )
    reason = ReasonField(label=_("Who said so, and when?"), help_text=_("No diagnosis is needed."))
