"""The administrator's desk: sites, rules, accounts, rosters. Health records aren't here.

What the services guard is saved through the services, so this door refuses what the others refuse.
"""

from __future__ import annotations

from typing import Any, ClassVar, cast

from django import forms
from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from staff.errors import NotCleared, Refused
from staff.forms.account import AdminSignInForm
from staff.models import Assignment, CrewRole, Outing, Site, SiteRole, SiteRules, User
from staff.selectors.readiness import clearance_on
from staff.services.roster import roster_assign
from staff.services.site_rules import site_rules_change

admin.site.login_form = AdminSignInForm

# The reasons are of somebody's record, which this door doesn't show.
NOT_CLEAR = _("This person is not clear on that date; ask the officer.")


class SiteRoleInline(admin.TabularInline):
    model = SiteRole
    extra = 1


@admin.register(User)
class AccountAdmin(UserAdmin):
    inlines: ClassVar = [SiteRoleInline]
    fieldsets = (*(UserAdmin.fieldsets or ()), (_("Reading"), {"fields": ("language", "time_zone")}))


@admin.register(Site)
class SiteAdmin(admin.ModelAdmin):
    list_display = ("name", "code", "time_zone", "authority", "emergency_number")

    def save_model(self, request: HttpRequest, obj: Site, form: Any, change: bool) -> None:
        super().save_model(request, obj, form, change)
        SiteRules.objects.get_or_create(site=obj)

    def has_delete_permission(self, request: HttpRequest, obj: Site | None = None) -> bool:
        return False


class RulesForm(forms.ModelForm):
    reason = forms.CharField(label=_("Why is this changed?"), max_length=300)

    class Meta:
        model = SiteRules
        fields = (
            "doses_required",
            "settling_days",
            "recheck_months",
            "recheck_once",
            "lapse_blocks",
            "briefing_months",
            "mixed_routes",
            "stopped_course_doses",
            "hold_after_exposure",
            "wash_minutes",
            "observation_days",
            "late_rule",
            "restart_after_days",
            "notice_hour",
            "acknowledge_hours",
            "further_contact_email",
            "travel_kmh",
            "longest_run",
            "rest_days",
            "community_days",
            "spare_percent",
            "syringe_uses",
            "washes_carried",
            "wash_flow_ml",
        )


@admin.register(SiteRules)
class RulesAdmin(admin.ModelAdmin):
    """A change needs a reason; everybody of the site is marked in the same transaction and recomputed behind it."""

    form = RulesForm
    list_display = ("site", "doses_required", "settling_days", "wash_minutes", "late_rule")

    def save_model(self, request: HttpRequest, obj: SiteRules, form: Any, change: bool) -> None:
        changes = {name: form.cleaned_data[name] for name in form.changed_data if name != "reason"}
        if changes:
            site_rules_change(
                actor=cast(User, request.user),
                rules=obj,
                changes=changes,
                reason=form.cleaned_data["reason"],
                now=timezone.now(),
            )

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: SiteRules | None = None) -> bool:
        return False


@admin.register(Outing)
class OutingAdmin(admin.ModelAdmin):
    """To look at; planned, moved and cancelled on the officer's page."""

    list_display = ("date", "area", "site", "method", "cancelled_at")
    list_filter = ("site",)

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Outing | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Outing | None = None) -> bool:
        return False


class AssignmentForm(forms.ModelForm):
    role = forms.ChoiceField(label=_("Crew role"), choices=CrewRole.choices)

    class Meta:
        model = Assignment
        fields = ("outing", "crew", "person", "role")

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        person, outing = data.get("person"), data.get("outing")
        if person and outing and clearance_on(person, outing.date) is None:
            raise forms.ValidationError({"person": NOT_CLEAR})
        return data


@admin.register(Assignment)
class AssignmentAdmin(admin.ModelAdmin):
    """Adding goes through the roster's service; taking somebody off needs a reason and the officer's page."""

    form = AssignmentForm
    list_display = ("outing", "crew", "person", "role")

    def save_model(self, request: HttpRequest, obj: Assignment, form: Any, change: bool) -> None:
        made = roster_assign(
            actor=cast(User, request.user),
            outing=obj.outing,
            crew=obj.crew,
            person=obj.person,
            role=obj.role,
            now=timezone.now(),
        )
        obj.pk, obj.clearance = made.pk, made.clearance

    def add_view(self, request: HttpRequest, form_url: str = "", extra_context: Any = None) -> Any:
        try:
            return super().add_view(request, form_url, extra_context)
        except Refused as refused:
            words = NOT_CLEAR if isinstance(refused, NotCleared) else refused.message
            self.message_user(request, words, level="error")
            return self.changelist_view(request)

    def has_change_permission(self, request: HttpRequest, obj: Assignment | None = None) -> bool:
        return False

    def has_view_permission(self, request: HttpRequest, obj: Assignment | None = None) -> bool:
        return bool(request.user.is_active and request.user.is_superuser)

    def has_delete_permission(self, request: HttpRequest, obj: Assignment | None = None) -> bool:
        return False
