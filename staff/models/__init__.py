from staff.models.audit import AuditEntry
from staff.models.clearance import Clearance
from staff.models.importing import DateFormatChoice, ImportDraft
from staff.models.outing import Assignment, Crew, Outing, Withdrawal
from staff.models.person import CrewRole, Person, PersonCrewRole
from staff.models.record import Briefing, Dose, Evidence, Hold, Titre
from staff.models.regimen import Purpose, Regimen, RegimenApproval, RegimenStep, Route
from staff.models.site import LateRuleChoice, Site, SiteRules
from staff.models.user import SiteRole, User

__all__ = [
    "Assignment",
    "AuditEntry",
    "Briefing",
    "Clearance",
    "Crew",
    "CrewRole",
    "DateFormatChoice",
    "Dose",
    "Evidence",
    "Hold",
    "ImportDraft",
    "LateRuleChoice",
    "Outing",
    "Person",
    "PersonCrewRole",
    "Purpose",
    "Regimen",
    "RegimenApproval",
    "RegimenStep",
    "Route",
    "Site",
    "SiteRole",
    "SiteRules",
    "Titre",
    "User",
    "Withdrawal",
]
