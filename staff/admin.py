"""The administrator's desk: sites, rules, accounts, rosters. Health records aren't here.

What the services guard is saved through the services, so this door refuses what the others refuse.
"""

from __future__ import annotations

from typing import Any, ClassVar, cast

from django import forms
from django.contrib import admin
from django.http import HttpRequest
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from staff.forms.site.account import AdminSignInForm
from staff.forms.site.accounts import AccountForm, NewAccountForm
from staff.ground.errors import NotCleared, Refused
from staff.models import Assignment, CrewRole, Outing, RoleOffer, Site, SiteRole, SiteRules, User
from staff.selectors.record.readiness import clearance_on
from staff.services.audit import audit_write
from staff.services.outing.roster import roster_assign
from staff.services.site.accounts import account_create, account_save, role_give, role_take
from staff.services.site.site_rules import site_rules_change

admin.site.login_form = AdminSignInForm

# The reasons are of somebody's record, which this door doesn't show.
NOT_CLEAR = _("This person is not clear on that date; ask the officer.")
WAITS = _("“%(role)s” opens nothing until an officer of the site, who was written to, has confirmed it.")


class SiteRoleInline(admin.TabularInline):
    """Roles are given and taken away, each with a row of its own; none is changed into another."""

    model = SiteRole
    fk_name = "user"
    fields = ("site", "role")
    extra = 1

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(User)
class AccountAdmin(admin.ModelAdmin):
    """Who there is and what each may do. No password is set here, and nobody's doors are opened by themself."""

    form = AccountForm
    list_display = ("username", "email", "get_full_name", "is_active", "is_superuser")
    list_filter = ("is_superuser", "is_active")
    search_fields = ("username", "first_name", "last_name", "email")
    inlines: ClassVar = [SiteRoleInline]

    def get_form(self, request: HttpRequest, obj: User | None = None, change: bool = False, **kw: Any) -> Any:
        return super().get_form(request, obj, change, **({} if obj else {"form": NewAccountForm}), **kw)

    def get_inlines(self, request: HttpRequest, obj: User | None) -> Any:
        return self.inlines if obj else []

    def save_model(self, request: HttpRequest, obj: User, form: Any, change: bool) -> None:
        actor, now = cast(User, request.user), timezone.now()
        if not change:
            account_create(actor=actor, account=obj, now=now)
            return
        account_save(
            actor=actor, account=obj, old={name: form.initial[name] for name in form.changed_data}, now=now
        )

    def save_formset(self, request: HttpRequest, form: Any, formset: Any, change: bool) -> None:
        actor, now = cast(User, request.user), timezone.now()
        given = formset.save(commit=False)
        for row in formset.deleted_objects:
            role_take(actor=actor, row=row, now=now)
        for row in given:
            made = role_give(actor=actor, account=form.instance, site=row.site, role=row.role, now=now)
            if isinstance(made, RoleOffer):
                self.message_user(request, WAITS % {"role": made}, level="warning")

    def changeform_view(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        try:
            return super().changeform_view(request, *args, **kwargs)
        except Refused as refused:
            # Everything of the form is taken back with it.
            self.message_user(request, refused.message, level="error")
            return redirect(request.path)

    def has_delete_permission(self, request: HttpRequest, obj: User | None = None) -> bool:
        """An account is closed; what it did stays its own."""
        return False


@admin.register(Site)
class SiteAdmin(admin.ModelAdmin):
    list_display = ("name", "code", "time_zone", "authority", "emergency_number")

    def save_model(self, request: HttpRequest, obj: Site, form: Any, change: bool) -> None:
        super().save_model(request, obj, form, change)
        SiteRules.objects.get_or_create(site=obj)
        audit_write(
            actor=cast(User, request.user),
            action="site.changed" if change else "site.added",
            now=timezone.now(),
            site=obj,
            changed={name: str(form.cleaned_data[name]) for name in form.changed_data},
        )

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
            "clinic_news_days",
            "clinic_of_day_minutes",
            "immunoglobulin_minutes",
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
