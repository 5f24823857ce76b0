"""Accounts and what each may do at which site."""

from __future__ import annotations

from typing import ClassVar

from django.conf import settings
from django.contrib.auth.models import AbstractUser
from django.db import models
from django.utils.translation import gettext_lazy as _

from staff.ground import roles
from staff.models.site.site import check_time_zone


class User(AbstractUser):
    """Somebody who signs in. Health data are reached through `SiteRole` or one's own `Person` only."""

    language = models.CharField(_("language"), max_length=10, default="en", choices=settings.LANGUAGES)
    time_zone = models.CharField(
        _("time zone (empty: the site's)"), max_length=60, blank=True, validators=[check_time_zone]
    )

    class Meta(AbstractUser.Meta):
        pass

    def __str__(self) -> str:
        return self.get_full_name() or self.username


class SiteRole(models.Model):
    """One person's duty at one site; a member needs none, being the site's person is enough."""

    class Role(models.TextChoices):
        OFFICER = roles.Role.OFFICER.value, _("safety officer")
        LEAD = roles.Role.LEAD.value, _("crew lead")
        LIAISON = roles.Role.LIAISON.value, _("clinic liaison")

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="site_roles")
    site = models.ForeignKey("staff.Site", on_delete=models.CASCADE, related_name="site_roles")
    role = models.CharField(_("role"), max_length=10, choices=Role)
    # Empty: at the console, or before this was noted.
    given_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    # The officer who confirmed it (`RoleOffer`). Empty: at a site without another officer, or before that was asked.
    confirmed_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["user", "site", "role"], name="site_role_once"),
            # Nobody gives a role to themself, by whatever door.
            models.CheckConstraint(
                condition=models.Q(given_by__isnull=True) | ~models.Q(given_by=models.F("user")),
                name="site_role_by_another",
            ),
            models.CheckConstraint(
                condition=models.Q(confirmed_by__isnull=True)
                | (
                    ~models.Q(confirmed_by=models.F("user"))
                    & (models.Q(given_by__isnull=True) | ~models.Q(confirmed_by=models.F("given_by")))
                ),
                name="site_role_confirmed_by_a_third",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user}: {self.get_role_display()}, {self.site}"


# Every role in words, the one that nobody is given among them.
ROLE_WORDS = {**dict(SiteRole.Role.choices), roles.Role.MEMBER.value: _("team member")}
if set(SiteRole.Role.values) != set(roles.GIVEN) or set(ROLE_WORDS) != set(roles.Role):
    raise RuntimeError("the roles of accounts and their words differ from staff.ground.roles")
