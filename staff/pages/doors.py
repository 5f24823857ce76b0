"""The door of every page: who may open it. A view without `page` is refused by the access test."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, cast

from django.contrib import messages
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponseBase, HttpResponseRedirect
from django.utils.cache import add_never_cache_headers
from django.utils.translation import gettext as _

from staff.models import User
from staff.rules.roles import Role
from staff.selectors.access import roles_of

View = Callable[..., HttpResponseBase]

OFFICER, LIAISON, LEAD, MEMBER = Role.OFFICER.value, Role.LIAISON.value, Role.LEAD.value, Role.MEMBER.value
ANYONE = "signed-in"


class SignInFirst(LoginRequiredMiddleware):
    """Sends whoever isn't signed in to the sign-in page, and says so when a form was lost by it."""

    def handle_no_permission(self, request: HttpRequest, view_func: View) -> HttpResponseRedirect:
        if request.method == "POST":
            messages.warning(
                request,
                _("You were signed out; what you had typed was not kept. Sign in and enter it again."),
            )
        return super().handle_no_permission(request, view_func)


def page(*roles: str) -> Callable[[View], View]:
    """Let in accounts that hold one of `roles` at some site (ANYONE: every account that is signed in).

    Which rows they then see is decided by the selector, which takes the user. No browser or proxy keeps a page.
    """

    def wrap(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if ANYONE not in roles and not roles_of(request.user) & set(roles):
                raise PermissionDenied
            response = view(request, *args, **kwargs)
            # After sign-out the next reader of a shared phone must not find it with the back button.
            add_never_cache_headers(response)
            return response

        guarded.allowed_roles = frozenset(roles)  # type: ignore[attr-defined]
        return guarded

    return wrap


def signed_in(request: HttpRequest) -> User:
    """The account behind the request; SignInFirst has made sure there is one."""
    return cast(User, request.user)
