"""Signing in and out, and the first page of each role."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth import views
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import translation
from django.utils.decorators import method_decorator

from staff.doors.page import ANYONE, LEAD, LIAISON, MEMBER, OFFICER, answering, page, signed_in
from staff.forms.site.account import SignInForm
from staff.selectors.access import roles_of

# The first role held decides; the liaison's desk comes before the member's own record.
FIRST_PAGE = ((OFFICER, "readiness"), (LIAISON, "desk"), (LEAD, "outings"), (MEMBER, "me"))


@method_decorator(answering, name="dispatch")
class SignIn(views.LoginView):
    template_name = "staff/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def form_valid(self, form: SignInForm) -> HttpResponse:  # type: ignore[override]
        response = super().form_valid(form)
        set_language(response, signed_in(self.request).language)
        return response


def set_language(response: HttpResponse, language: str) -> None:
    """Pages follow the account's language from the next request on."""
    translation.activate(language)
    response.set_cookie(
        settings.LANGUAGE_COOKIE_NAME, language, samesite="Lax", secure=settings.SECURE_COOKIES
    )


@page(ANYONE)
def home(request: HttpRequest) -> HttpResponse:
    held = roles_of(signed_in(request))
    return redirect(next((name for role, name in FIRST_PAGE if role in held), "account"))
