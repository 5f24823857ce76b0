"""`manage.py changepassword USERNAME`, in the place of Django's own, which leaves no trace: its owner types it here."""

from __future__ import annotations

import getpass
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from staff.models import User
from staff.services.site.accounts import password_set


class Command(BaseCommand):
    help = "Set an account's password. Let its owner type it: the person and the officers are told of it."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("username")

    def handle(self, *_args: Any, username: str, **_options: Any) -> None:
        account = User.objects.filter(username=username).first()
        if account is None:
            raise CommandError(f"No account is called “{username}”; see the administrator's desk.")
        password = getpass.getpass("New password: ")
        if password != getpass.getpass("The same again: "):
            raise CommandError("The two differ; nothing was changed.")
        try:
            validate_password(password, account)
        except ValidationError as wrong:
            raise CommandError(" ".join(wrong.messages)) from None
        password_set(account=account, password=password, now=timezone.now())
        self.stdout.write(f"The password of “{username}” is set; its other sessions are signed out.")
