from __future__ import annotations

import time
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from safety.services.sending import tick


class Command(BaseCommand):
    help = "Plan, reconcile and send what is due, as a worker's tick does, without a broker."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--loop", type=float, metavar="SECONDS", help="Go on, every so many seconds.")

    def handle(self, *_args: Any, loop: float | None = None, **_options: Any) -> None:
        while True:
            sent = tick(clock=timezone.now)
            self.stdout.write(f"{sent} sent")
            if loop is None:
                return
            time.sleep(loop)
