"""The administrator keeps the clinic list; cases and health data aren't here."""

from __future__ import annotations

from django.contrib import admin

from safety.models import Clinic


@admin.register(Clinic)
class ClinicAdmin(admin.ModelAdmin):
    list_display = ("name", "site", "phone", "vaccine", "immunoglobulin", "confirmed_on", "active")
    list_filter = ("site",)
