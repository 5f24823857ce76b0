"""What the shell of every page needs."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpRequest

from staff.selectors.access import roles_of


def shell(request: HttpRequest) -> dict[str, Any]:
    return {
        "demo": settings.DEMO,
        "roles": roles_of(request.user) if hasattr(request, "user") else frozenset(),
    }
