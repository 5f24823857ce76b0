"""One's own account: password, language, API keys."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST
from knox.models import AuthToken

from staff.errors import Refused
from staff.forms.account import ClocksForm, KeyForm, LanguageForm, NewPasswordForm
from staff.models import SiteRole
from staff.doors.form import attempt
from staff.doors.page import ANYONE, page, signed_in
from staff.pages.home import set_language
from staff.services.audit import audit_write
from staff.services.keys import key_create, key_revoke


@page(ANYONE)
def account(request: HttpRequest) -> HttpResponse:
    return _show(request)


@page(ANYONE)
@require_POST
def password(request: HttpRequest) -> HttpResponse:
    user = signed_in(request)
    form = NewPasswordForm(user, request.POST)
    if not form.is_valid():
        return _show(request, form, password_form=form)
    form.save()
    update_session_auth_hash(request, user)
    audit_write(actor=user, action="password.changed", now=timezone.now())
    messages.success(request, _("The password is changed; other devices are signed out."))
    return redirect("account")


@page(ANYONE)
@require_POST
def language(request: HttpRequest) -> HttpResponse:
    user = signed_in(request)
    form = LanguageForm(request.POST)
    if not form.is_valid():
        return _show(request, form, language_form=form)
    user.language = form.cleaned_data["language"]
    user.save(update_fields=["language"])
    response = redirect("account")
    set_language(response, user.language)
    messages.success(request, _("The language is set."))
    return response


@page(ANYONE)
@require_POST
def clocks(request: HttpRequest) -> HttpResponse:
    """Waiting notices move to the new hour with the next tick."""
    user = signed_in(request)
    form = ClocksForm(request.POST)
    if not form.is_valid():
        return _show(request, form, clocks_form=form)
    user.time_zone = form.cleaned_data["time_zone"]
    with transaction.atomic():
        user.save(update_fields=["time_zone"])
        audit_write(actor=user, action="account.clocks", now=timezone.now(), target=user.time_zone)
    messages.success(request, _("The time zone is set."))
    return redirect("account")


@page(ANYONE)
@require_POST
@never_cache
def key_add(request: HttpRequest) -> HttpResponse:
    """The key is in this answer and nowhere else, so it is shown without a redirect."""
    user, now = signed_in(request), timezone.now()
    form, made = KeyForm(request.POST), []
    status = attempt(
        form, lambda data: made.append(key_create(user=user, password=data["password"], now=now))
    )
    if status:
        return _show(request, form, status=status, key_form=form)
    return _show(request, status=201, new_key=made[0])


@page(ANYONE)
@require_POST
def key_end(request: HttpRequest, token_key: str) -> HttpResponse:
    try:
        key_revoke(user=signed_in(request), token_key=token_key, now=timezone.now())
    except Refused as refused:
        messages.error(request, refused.message)
    else:
        messages.success(request, _("The key is revoked and opens nothing any more."))
    return redirect("account")


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
    if wrong is not None and status == 200:
        status = 400
    return render(request, "staff/account.html", shown, status=status)
