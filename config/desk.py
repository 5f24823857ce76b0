"""The administrator's desk holds what is named here and nothing a library brings along.

It sets no password; what it changes of an account goes through staff.services.site.accounts, which leaves an `AccountChange`.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.contrib.admin import AdminSite
from django.contrib.admin.apps import AdminConfig
from django.db.models import Model
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext_lazy

# API keys, groups and permissions aren't among them: with those an administrator could act as somebody else.
HELD = frozenset(
    {"staff.user", "staff.site", "staff.siterules", "staff.outing", "staff.assignment", "safety.clinic"}
)


class Desk(AdminSite):
    """Open to administrators alone: an account that only has Django's staff mark finds no door here."""

    site_header = gettext_lazy("Administrator's desk")
    site_title = gettext_lazy("Three-Fifteen")
    index_title = gettext_lazy("Sites, rules and accounts")

    def register(
        self,
        model_or_iterable: type[Model] | Iterable[type[Model]],
        admin_class: Any = None,
        **options: Any,
    ) -> None:
        models = [model_or_iterable] if isinstance(model_or_iterable, type) else list(model_or_iterable)
        held = [model for model in models if model._meta.label_lower in HELD]
        super().register(held, admin_class, **options)

    def has_permission(self, request: HttpRequest) -> bool:
        return bool(request.user.is_active and request.user.is_superuser)

    def password_change(  # type: ignore[override]  # it leads away instead of showing Django's own form
        self,
        request: HttpRequest,  # noqa: ARG002
        extra_context: dict[str, Any] | None = None,  # noqa: ARG002
    ) -> HttpResponse:
        """One's own password is changed on the account page, where it is counted and noted."""
        return redirect("account")


class DeskConfig(AdminConfig):
    default_site = "config.desk.Desk"
