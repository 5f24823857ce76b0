from __future__ import annotations

from itertools import chain
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.utils import timezone

from safety.selectors.upkeep.verify import differences as safety_differences
from staff import guards
from staff.selectors.record.verify import differences as staff_differences


class Command(BaseCommand):
    help = (
        "Recompute every clearance, plan and notice from the records and say what differs; changes nothing."
    )

    def handle(self, *_args: Any, **_options: Any) -> None:
        now = timezone.now()
        found = 0
        for name in guards.missing(connection):
            found += 1
            self.stdout.write(f"guard {name}: missing; `manage.py migrate` puts it back")
        for difference in chain(staff_differences(now), safety_differences()):
            found += 1
            self.stdout.write(str(difference))
        if found:
            raise CommandError(f"{found} things differ.")
        self.stdout.write("Nothing differs.")
