"""Signing in, the password, the language and the keys of one's own account."""

from __future__ import annotations

from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.conf import settings
from django.contrib.admin.forms import AdminAuthenticationForm
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from staff.ground.errors import Refused
from staff.services.site.guesses import guess_forgive, guess_take, seconds_left
from staff.services.site.passwords import password_confirm, sign_in_key
from staff.words import too_many_tries


class CountedGuesses(AuthenticationForm):
    """Takes a try of the account before the password is compared: a hundred guesses at once try five."""

    def clean(self) -> dict[str, Any]:
        # Django calls this without a clock; it is read here, once.
        now = timezone.now()
        key = sign_in_key(str(self.cleaned_data.get("username") or ""))
        if self.cleaned_data.get("username") and self.cleaned_data.get("password"):
            if not guess_take(key=key, now=now):
                raise forms.ValidationError(too_many_tries(seconds_left(key=key, now=now)), code="locked")
            cleaned: dict[str, Any] = super().clean()
            guess_forgive(key=key)
            return cleaned
        return super().clean()


class SignInForm(CountedGuesses):
    """Django's own check; only the sentence for a wrong pair is ours."""

    error_messages = {  # noqa: RUF012
        "invalid_login": _("This user name and password don't go together. Capital letters matter."),
        "inactive": _("This account is closed; ask your safety officer."),
    }


class AdminSignInForm(CountedGuesses, AdminAuthenticationForm):
    """The administrator's door counts with the same counter as the others."""


class NewPasswordForm(PasswordChangeForm):
    """Django's own, with the old password counted; it is one of several on its page, so it doesn't take the focus."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["old_password"].widget.attrs.pop("autofocus", None)

    def clean_old_password(self) -> str:
        old = str(self.cleaned_data["old_password"])
        try:
            # Django calls this without a clock; it is read here, once.
            password_confirm(user=self.user, password=old, now=timezone.now(), field="old_password")
        except Refused as refused:
            raise forms.ValidationError(refused.message, code=refused.code) from refused
        return old


class LanguageForm(forms.Form):
    language = forms.ChoiceField(label=_("Language of pages and mail"), choices=settings.LANGUAGES)


class ClocksForm(forms.Form):
    time_zone = forms.ChoiceField(
        label=_("Time zone of your clocks"),
        required=False,
        choices=lambda: [("", _("the site's")), *((name, name) for name in sorted(available_timezones()))],
        help_text=_("Reminders come at the hour of your clocks where that isn't late for the site."),
    )


class KeyForm(forms.Form):
    """Asks for the password again: a key opens the API without one."""

    password = forms.CharField(
        label=_("Your password"),
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text=_("A key opens the records this account may see. Keep it as you keep the password."),
    )
