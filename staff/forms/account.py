"""Signing in, the password, the language and the keys of one's own account."""

from __future__ import annotations

from django import forms
from django.conf import settings
from django.contrib.auth.forms import AuthenticationForm
from django.utils.translation import gettext_lazy as _


class SignInForm(AuthenticationForm):
    """Django's own check; only the sentence for a wrong pair is ours."""

    error_messages = {  # noqa: RUF012
        "invalid_login": _("This user name and password don't go together. Capital letters matter."),
        "inactive": _("This account is closed; ask your safety officer."),
    }


class LanguageForm(forms.Form):
    language = forms.ChoiceField(label=_("Language of pages and mail"), choices=settings.LANGUAGES)


class KeyForm(forms.Form):
    """Asks for the password again: a key opens the API without one."""

    password = forms.CharField(
        label=_("Your password"),
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text=_("A key opens the records this account may see. Keep it as you keep the password."),
    )
