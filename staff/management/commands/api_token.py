"""`manage.py api_token USERNAME`: make a key for programs and print it, this once."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from staff.ground.errors import Conflict
from staff.models import User
from staff.services.site.keys import key_issue


class Command(BaseCommand):
    help = "Make an API key for an account and print it once; only its digest is kept."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("username")

    def handle(self, *_args: Any, username: str, **_options: Any) -> None:
        user = User.objects.filter(username=username).first()
        if user is None:
            raise CommandError(
                f"No account is called “{username}”; see the accounts on the administrator's desk."
            )
        if not user.is_active:
            raise CommandError(f"The account “{username}” is switched off; switch it on before making a key.")
        try:
            key = key_issue(user=user, actor=None, now=timezone.now())
        except Conflict as refused:
            raise CommandError(refused.message) from None
        self.stdout.write(key)
