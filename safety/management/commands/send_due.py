from __future__ import annotations

import logging
import time
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.db import DatabaseError, InterfaceError, close_old_connections
from django.utils import timezone

from safety.services.notices.tick import tick
from staff import guards

logger = logging.getLogger(__name__)


class Command(BaseCommand):
    help = "Plan, reconcile and send what is due, as a worker's tick does, without a broker."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--loop", type=float, metavar="SECONDS", help="Go on, every so many seconds.")

    def handle(self, *_args: Any, loop: float | None = None, **_options: Any) -> None:
        guards.require()
        while True:
            try:
                self.stdout.write(f"{tick(clock=timezone.now)} sent")
            except (DatabaseError, InterfaceError):
                if loop is None:
                    raise
                logger.exception("The database did not answer; trying again in %s s", loop)
            if loop is None:
                return
            close_old_connections()
            time.sleep(loop)
