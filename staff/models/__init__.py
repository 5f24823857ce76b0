from staff.models.account_change import AccountChange
from staff.models.audit import AuditEntry
from staff.models.campaign import Campaign, CampaignArea, CampaignMember, Method, Session, SessionPlace
from staff.models.certificate import Certificate, ClearanceLetter, DocumentKind, DoseVerification
from staff.models.clearance import Clearance
from staff.models.dose_standing import DoseStanding
from staff.models.guess import GuessCounter
from staff.models.importing import DateFormatChoice, ImportDraft
from staff.models.outing import Assignment, Crew, CrewShape, Outing, OutingChange, OutingMove, Withdrawal
from staff.models.outing_steps import CommunityNotice, DayWish, KitTick
from staff.models.person import CrewRole, Person, PersonCrewRole
from staff.models.record import Briefing, DateKnown, Dose, Evidence, Hold, Titre, TitreEvidence
from staff.models.regimen import (
    Purpose,
    Regimen,
    RegimenApproval,
    RegimenEdit,
    RegimenMove,
    RegimenStep,
    Route,
)
from staff.models.rules_change import ClearancePending, PersonDue, RulesChange
from staff.models.site import LateRuleChoice, Site, SiteHoliday, SiteRules
from staff.models.user import ROLE_WORDS, SiteRole, User
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
