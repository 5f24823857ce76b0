from __future__ import annotations

from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate
from django.utils.translation import gettext_lazy as _

from staff import guards


class StaffConfig(AppConfig):
    name = "staff"
    verbose_name = _("Staff")

    def ready(self) -> None:
        # SQLite re-makes a table to alter it and silently drops its triggers: put them back after every migrate.
        pre_migrate.connect(guards.remove_before_migrate, sender=self)
        post_migrate.connect(guards.install_after_migrate, sender=self)
