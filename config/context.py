"""What the shell of every page needs: the places a reader may go, and whom they call in an emergency."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse
from django.utils.functional import SimpleLazyObject
from django.utils.translation import gettext_lazy as _

from staff.selectors.access import roles_of, sites_of

OFFICE = frozenset({"officer", "liaison"})
FIELD = frozenset({"lead", "member"})
EVERYBODY = OFFICE | FIELD

# Name of the address, words of the link, roles that see it; in the order of the menu.
NAV = (
    ("me", _("My record"), frozenset({"member"})),
    ("readiness", _("Readiness"), OFFICE | {"lead"}),
    ("outings", _("Outings"), EVERYBODY),
    ("cases", _("Cases"), OFFICE),
    ("doses-due", _("Doses due"), OFFICE),
    ("clinics", _("Clinics"), OFFICE | {"lead"}),
    ("notices", _("Notices"), OFFICE),
    ("regimens", _("Regimens"), OFFICE),
    ("import", _("Import"), frozenset({"officer"})),
    ("account", _("Account"), None),
)


def _entry(request: HttpRequest, name: str, label: object) -> dict[str, Any]:
    url = reverse(name)
    current = "page" if request.path == url else "true" if request.path.startswith(url) else ""
    return {"url": url, "label": label, "current": current}


def shell(request: HttpRequest) -> dict[str, Any]:
    user = getattr(request, "user", None)
    context: dict[str, Any] = {
        "demo": settings.DEMO,
        "mail_held": settings.DEMO and not settings.SMTP_URL,
        "report_url": reverse("report"),
        "mailbox_url": "",
        "roles": frozenset(),
        "nav": [],
        "my_sites": [],
    }
    if user is not None and user.is_authenticated:
        roles = roles_of(user)
        context["roles"] = roles
        if context["mail_held"] and roles & OFFICE:
            context["mailbox_url"] = reverse("mailbox")
        context["nav"] = [
            _entry(request, name, label) for name, label, seen_by in NAV if seen_by is None or roles & seen_by
        ]
        context["my_sites"] = SimpleLazyObject(lambda: list(sites_of(user)))
    return context
