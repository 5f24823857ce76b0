"""What the shell of every page needs: the places a reader may go, and whom they call in an emergency."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import SimpleLazyObject
from django.utils.translation import gettext_lazy as _

from safety.selectors.case.cases import incidents_to_return_to
from safety.selectors.course.follow_up import needs_now
from staff.ground.roles import ROLES, Role
from staff.models import User
from staff.selectors.access import roles_of, sites_of

OFFICE = frozenset(role for role, row in ROLES.items() if row.office)
FIELD = frozenset(ROLES) - OFFICE
OFFICER, LEAD, MEMBER = (frozenset({role}) for role in (Role.OFFICER, Role.LEAD, Role.MEMBER))
EVERYBODY = OFFICE | FIELD

# Name of the address, words of the link, roles that see it; in the order of the menu.
NAV = (
    ("desk", _("To do today"), OFFICE),
    ("me", _("My record"), MEMBER),
    ("readiness", _("Readiness"), OFFICE | LEAD),
    ("outings", _("Outings"), EVERYBODY),
    ("campaigns", _("Campaigns"), OFFICE),
    ("cases", _("Cases"), OFFICE),
    ("doses-due", _("Doses due"), OFFICE),
    ("clinics", _("Clinics"), OFFICE | LEAD),
    ("notices", _("Notices"), OFFICE),
    ("regimens", _("Regimens"), OFFICE),
    ("sites", _("Rules"), OFFICER),
    ("import", _("Import"), OFFICER),
    ("account", _("Account"), None),
)


def _entry(request: HttpRequest, name: str, label: object) -> dict[str, Any]:
    url = reverse(name)
    current = "page" if request.path == url else "true" if request.path.startswith(url) else ""
    return {"url": url, "label": label, "current": current}


def _ways_back(user: User) -> list[dict[str, Any]]:
    """Where a member or lead finds a report again after the phone was locked or put away."""
    return [
        {
            "incident": incident,
            "url": reverse(
                "case" if incident.person.user_id == user.pk else "report-sent", args=[incident.reference]
            ),
        }
        for incident in incidents_to_return_to(user, timezone.now())
    ]


def shell(request: HttpRequest) -> dict[str, Any]:
    user = getattr(request, "user", None)
    context: dict[str, Any] = {
        "demo": settings.DEMO,
        "mail_held": settings.DEMO and not settings.SMTP_URL,
        # Not on the report itself: pressed there by a wet hand, it would begin the page and its clock anew.
        "report_url": "" if request.path == reverse("report") else reverse("report"),
        "mailbox_url": "",
        "roles": frozenset(),
        "nav": [],
        "my_sites": [],
        "ways_back": [],
        "needs_now": None,
    }
    if user is not None and user.is_authenticated:
        roles = roles_of(user)
        context["roles"] = roles
        if context["mail_held"] and roles & OFFICE:
            context["mailbox_url"] = reverse("mailbox")
        if roles & OFFICE:
            context["needs_now"] = SimpleLazyObject(lambda: needs_now(user, timezone.now()))
        context["nav"] = [
            _entry(request, name, label) for name, label, seen_by in NAV if seen_by is None or roles & seen_by
        ]
        context["ways_back"] = SimpleLazyObject(lambda: _ways_back(user))
        context["my_sites"] = SimpleLazyObject(lambda: list(sites_of(user)))
    return context
