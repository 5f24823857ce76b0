"""One's own account: password, language, API keys."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST
from knox.models import AuthToken

from staff.doors.form import After, attempt, pressed, told
from staff.doors.page import ANYONE, page, signed_in
from staff.forms.site.account import ClocksForm, KeyForm, LanguageForm, NewPasswordForm
from staff.models import SiteRole
from staff.pages.site.home import set_language
from staff.services.site.account import clocks_set, language_set, password_change
from staff.services.site.keys import key_create, key_revoke


@page(ANYONE)
def account(request: HttpRequest) -> HttpResponse:
    return _show(request)


@page(ANYONE)
@require_POST
def password(request: HttpRequest) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    form = NewPasswordForm(user, request.POST)
    outcome = attempt(
        request, form, lambda said: password_change(user=user, password=said["new_password1"], now=now)
    )
    if not outcome.kept:
        return _show(request, form, status=outcome.status, password_form=form)
    update_session_auth_hash(request, user)
    words = After(back=reverse("account"), done=_("The password is changed; other devices are signed out."))
    return told(request, outcome, words)


@page(ANYONE)
@require_POST
def language(request: HttpRequest) -> HttpResponse:
    user, form = signed_in(request), LanguageForm(request.POST)
    outcome = attempt(request, form, lambda said: language_set(user=user, language=said["language"]))
    if not outcome.kept:
        return _show(request, form, status=outcome.status, language_form=form)
    response = redirect("account")
    set_language(response, user.language)
    messages.success(request, _("The language is set."))
    return response


@page(ANYONE)
@require_POST
def clocks(request: HttpRequest) -> HttpResponse:
    """Waiting notices move to the new hour with the next tick."""
    user, now, form = signed_in(request), timezone.now(), ClocksForm(request.POST)
    outcome = attempt(request, form, lambda said: clocks_set(user=user, now=now, **said))
    if not outcome.kept:
        return _show(request, form, status=outcome.status, clocks_form=form)
    return told(request, outcome, After(back=reverse("account"), done=_("The time zone is set.")))


@page(ANYONE)
@require_POST
@never_cache
def key_add(request: HttpRequest) -> HttpResponse:
    """The key is in this answer and nowhere else, so it is shown without a redirect."""
    user, now, form = signed_in(request), timezone.now(), KeyForm(request.POST)
    outcome = attempt(request, form, lambda said: key_create(user=user, password=said["password"], now=now))
    if not outcome.kept:
        return _show(request, form, status=outcome.status, key_form=form)
    return _show(request, status=201, new_key=outcome.made)


@page(ANYONE)
@require_POST
def key_end(request: HttpRequest, token_key: str) -> HttpResponse:
    user, now = signed_in(request), timezone.now()
    words = After(back=reverse("account"), done=_("The key is revoked and opens nothing any more."))
    return pressed(request, lambda: key_revoke(user=user, token_key=token_key, now=now), words)


def _show(
    request: HttpRequest, wrong: forms.BaseForm | None = None, *, status: int = 200, **context: Any
) -> HttpResponse:
    user = signed_in(request)
    shown = {
        "form": wrong,
        "password_form": NewPasswordForm(user),
        "language_form": LanguageForm(initial={"language": user.language}),
        "clocks_form": ClocksForm(initial={"time_zone": user.time_zone}),
        "key_form": KeyForm(),
        "keys": AuthToken.objects.filter(user=user).order_by("created"),
        "duties": SiteRole.objects.filter(user=user).select_related("site").order_by("site__name", "role"),
        **context,
    }
    return render(request, "staff/account.html", shown, status=status)
