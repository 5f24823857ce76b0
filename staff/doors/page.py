"""The door of every page: who may open it. A view without `page` is refused by the access test."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, cast

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.core.exceptions import PermissionDenied
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse, HttpResponseBase, HttpResponseRedirect
from django.shortcuts import render
from django.utils.cache import add_never_cache_headers
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_variables

from staff.doors.retry import refusal_of
from staff.doors.status import status_of
from staff.ground.errors import Refused
from staff.ground.roles import Role
from staff.ground.transactions import retried
from staff.models import User
from staff.selectors.access import roles_of

View = Callable[..., HttpResponseBase]

OFFICER, LIAISON, LEAD, MEMBER = Role.OFFICER.value, Role.LIAISON.value, Role.LEAD.value, Role.MEMBER.value
ANYONE = "signed-in"
READING = frozenset({"GET", "HEAD", "OPTIONS"})


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
        shown = answering(view)

        @wraps(view)
        @sensitive_variables()
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if ANYONE not in roles and not roles_of(request.user) & set(roles):
                raise PermissionDenied
            response = shown(request, *args, **kwargs)
            # After sign-out the next reader of a shared phone must not find it with the back button.
            add_never_cache_headers(response)
            return response

        guarded.allowed_roles = frozenset(roles)  # type: ignore[attr-defined]
        return guarded

    return wrap


def open_page(view: View) -> View:
    """A page that asks for no account: what its address or its form holds is the whole right."""
    return login_not_required(answering(view))


def answering(view: View) -> View:
    """A refusal that no form took is a page with its sentence. What only reads is read again after the database
    gave way; what acts is tried again by the form engine, around the acting part alone."""

    @wraps(view)
    @sensitive_variables()
    def answered(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        reading = request.method in READING
        try:
            return (retried(view) if reading else view)(request, *args, **kwargs)
        except (Refused, OperationalError) as error:
            refused = refusal_of(error, unchanged=reading)
            if refused is None:
                raise
            return refused_page(request, refused)

    return answered


def refused_page(request: HttpRequest, refused: Refused) -> HttpResponse:
    response = render(request, "refused.html", {"refused": refused}, status=status_of(refused))
    # The address may be a secret, and what is refused now may be taken a moment later.
    response["Referrer-Policy"] = "no-referrer"
    add_never_cache_headers(response)
    return response


def signed_in(request: HttpRequest) -> User:
    """The account behind the request; SignInFirst has made sure there is one."""
    return cast(User, request.user)
