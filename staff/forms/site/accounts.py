"""Accounts on the administrator's desk."""

from __future__ import annotations

from typing import ClassVar

from django import forms

from staff.models import User


class NewAccountForm(forms.ModelForm):
    """Without a password: its owner sets one with `manage.py changepassword`."""

    class Meta:
        model = User
        fields: ClassVar[tuple[str, ...]] = (
            "username",
            "first_name",
            "last_name",
            "email",
            "language",
            "time_zone",
        )


class AccountForm(NewAccountForm):
    class Meta(NewAccountForm.Meta):
        fields: ClassVar[tuple[str, ...]] = (*NewAccountForm.Meta.fields, "is_active", "is_superuser")
