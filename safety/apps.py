from __future__ import annotations

from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class SafetyConfig(AppConfig):
    name = "safety"
    verbose_name = _("Safety")
