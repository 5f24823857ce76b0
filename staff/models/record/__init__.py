"""The rows of this shelf, handed on."""

from staff.models.record.certificate import Certificate, ClearanceLetter, DocumentKind, DoseVerification
from staff.models.record.clearance import Clearance
from staff.models.record.dose_standing import DoseStanding
from staff.models.record.entries import Briefing, DateKnown, Dose, Evidence, Hold, Titre, TitreEvidence
from staff.models.record.person import CrewRole, Person, PersonCrewRole

__all__ = [
    "Briefing",
    "Certificate",
    "Clearance",
    "ClearanceLetter",
    "CrewRole",
    "DateKnown",
    "DocumentKind",
    "Dose",
    "DoseStanding",
    "DoseVerification",
    "Evidence",
    "Hold",
    "Person",
    "PersonCrewRole",
    "Titre",
    "TitreEvidence",
]
