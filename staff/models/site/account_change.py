"""What somebody did to another's account: who may act as whom is told to those concerned."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from staff.models.site.site import Site
from staff.models.site.user import ROLE_WORDS


class AccountChange(models.Model):
    """Append only. `site` and `role` for a role alone; `by` is empty for the console of the server.

    `old_email`: where somebody could be reached before an address was changed, so that they are told there too.
    """

    class Kind(models.TextChoices):
        MADE = "made", _("account made")
        ROLE_OFFERED = "role-offered", _("role given, to be confirmed by an officer")
        ROLE_DECLINED = "role-declined", _("role not confirmed")
        ROLE_GIVEN = "role-given", _("role given")
        ROLE_TAKEN = "role-taken", _("role taken away")
        PASSWORD_SET = "password-set", _("password set at the console")
        KEY_MADE = "key-made", _("API key made at the console")
        EMAIL = "email", _("mail address changed")
        CLOSED = "closed", _("account closed")
        OPENED = "opened", _("account opened again")
        ADMINISTRATOR = "administrator", _("made an administrator")
        NO_ADMINISTRATOR = "no-administrator", _("no longer an administrator")

    account = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="account_changes"
    )
    kind = models.CharField(max_length=20, choices=Kind)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, null=True, related_name="+")
    role = models.CharField(max_length=10, blank=True)
    old_email = models.EmailField(blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["-at", "-pk"]
        indexes: ClassVar = [models.Index(fields=["-at"], name="account_change_by_time")]

    def __str__(self) -> str:
        return f"{self.account}: {self.kind}"

    @property
    def role_words(self) -> str:
        return str(ROLE_WORDS[self.role])
