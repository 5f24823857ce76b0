"""The administrator keeps the clinic list; cases and health data aren't here."""

from __future__ import annotations

from typing import Any, cast

from django.contrib import admin
from django.http import HttpRequest
from django.utils import timezone

from safety.models import Clinic
from staff.models import User
from staff.services.audit import audit_write


@admin.register(Clinic)
class ClinicAdmin(admin.ModelAdmin):
    list_display = ("name", "site", "phone", "vaccine", "immunoglobulin", "confirmed_on", "active")
    list_filter = ("site",)

    def save_model(self, request: HttpRequest, obj: Clinic, form: Any, change: bool) -> None:
        super().save_model(request, obj, form, change)
        audit_write(
            actor=cast(User, request.user),
            action="clinic.changed" if change else "clinic.added",
            now=timezone.now(),
            site=obj.site,
            target=f"clinic:{obj.pk}",
            changed={name: str(form.cleaned_data[name]) for name in form.changed_data},
        )

    def has_delete_permission(self, request: HttpRequest, obj: Clinic | None = None) -> bool:
        """A clinic nobody is sent to any more is marked so; cases name it."""
        return False
