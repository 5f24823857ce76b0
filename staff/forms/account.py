"""Signing in, the password, the language and the keys of one's own account."""

from __future__ import annotations

from typing import Any

from django import forms
from django.conf import settings
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.utils.translation import gettext_lazy as _


class SignInForm(AuthenticationForm):
    """Django's own check; only the sentence for a wrong pair is ours."""

    error_messages = {  # noqa: RUF012
        "invalid_login": _("This user name and password don't go together. Capital letters matter."),
        "inactive": _("This account is closed; ask your safety officer."),
    }


class NewPasswordForm(PasswordChangeForm):
    """Django's own; it is one of several on its page, so it doesn't take the focus."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["old_password"].widget.attrs.pop("autofocus", None)


class LanguageForm(forms.Form):
    language = forms.ChoiceField(label=_("Language of pages and mail"), choices=settings.LANGUAGES)


class KeyForm(forms.Form):
    """Asks for the password again: a key opens the API without one."""

    password = forms.CharField(
        label=_("Your password"),
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        help_text=_("A key opens the records this account may see. Keep it as you keep the password."),
    )
