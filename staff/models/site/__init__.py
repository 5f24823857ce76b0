"""The rows of this shelf, handed on."""

from staff.models.site.account_change import AccountChange
from staff.models.site.guess import GuessCounter
from staff.models.site.holiday import SiteHoliday
from staff.models.site.role_offer import RoleOffer
from staff.models.site.site import LateRuleChoice, Site, SiteRules
from staff.models.site.user import ROLE_WORDS, SiteRole, User

__all__ = [
    "ROLE_WORDS",
    "AccountChange",
    "GuessCounter",
    "LateRuleChoice",
    "RoleOffer",
    "Site",
    "SiteHoliday",
    "SiteRole",
    "SiteRules",
    "User",
]
