from staff.models.importing.importing import DateFormatChoice, ImportDraft
from staff.models.outing.campaign import Campaign, CampaignArea, CampaignMember, Method, Session, SessionPlace
from staff.models.outing.outing import (
    Assignment,
    Crew,
    CrewShape,
    Outing,
    OutingChange,
    OutingMove,
    Withdrawal,
)
from staff.models.outing.outing_steps import CommunityNotice, DayWish, KitTick
from staff.models.record.certificate import Certificate, ClearanceLetter, DocumentKind, DoseVerification
from staff.models.record.clearance import Clearance
from staff.models.record.dose_standing import DoseStanding
from staff.models.record.entries import Briefing, DateKnown, Dose, Evidence, Hold, Titre, TitreEvidence
from staff.models.record.person import CrewRole, Person, PersonCrewRole
from staff.models.regimen.regimen import (
    Purpose,
    Regimen,
    RegimenApproval,
    RegimenEdit,
    RegimenMove,
    RegimenStep,
    Route,
)
from staff.models.site.account_change import AccountChange
from staff.models.site.audit import AuditEntry
from staff.models.site.guess import GuessCounter
from staff.models.site.holiday import SiteHoliday
from staff.models.site.role_offer import RoleOffer
from staff.models.site.rules_change import ClearancePending, PersonDue, RulesChange
from staff.models.site.site import LateRuleChoice, Site, SiteRules
from staff.models.site.user import ROLE_WORDS, SiteRole, User
from staff.models.voidable import Voidable

__all__ = [
    "ROLE_WORDS",
    "AccountChange",
    "Assignment",
    "AuditEntry",
    "Briefing",
    "Certificate",
    "Campaign",
    "CampaignArea",
    "CampaignMember",
    "Clearance",
    "ClearanceLetter",
    "ClearancePending",
    "CommunityNotice",
    "Crew",
    "CrewRole",
    "CrewShape",
    "DateFormatChoice",
    "DateKnown",
    "DayWish",
    "DocumentKind",
    "Dose",
    "DoseStanding",
    "DoseVerification",
    "Evidence",
    "GuessCounter",
    "Hold",
    "ImportDraft",
    "KitTick",
    "LateRuleChoice",
    "Method",
    "Outing",
    "OutingChange",
    "OutingMove",
    "Person",
    "PersonCrewRole",
    "PersonDue",
    "Purpose",
    "Regimen",
    "RegimenApproval",
    "RegimenEdit",
    "RegimenMove",
    "RegimenStep",
    "RoleOffer",
    "Route",
    "RulesChange",
    "Session",
    "SessionPlace",
    "Site",
    "SiteHoliday",
    "SiteRole",
    "SiteRules",
    "Titre",
    "TitreEvidence",
    "User",
    "Voidable",
    "Withdrawal",
]
