from __future__ import annotations

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _

from safety import registry


class SafetyConfig(AppConfig):
    name = "safety"
    verbose_name = _("Safety")

    def ready(self) -> None:
        """Web, worker and beat refuse to start with a kind of notice that lacks a part."""
        registry.fill("safety.notices")
