from safety.models.case import Course, Decision, PlannedDose, Referral, Visit
from safety.models.clinic import Clinic, Stock
from safety.models.incident import (
    Animal,
    Answer,
    BodySite,
    Cause,
    ContactKind,
    Incident,
    Kind,
    Task,
    WashSpell,
    Wound,
)
from safety.models.notice import MailboxMessage, Notice, NoticeEvent

__all__ = [
    "Animal",
    "Answer",
    "BodySite",
    "Cause",
    "Clinic",
    "ContactKind",
    "Course",
    "Decision",
    "Incident",
    "Kind",
    "MailboxMessage",
    "Notice",
    "NoticeEvent",
    "PlannedDose",
    "Referral",
    "Stock",
    "Task",
    "Visit",
    "WashSpell",
    "Wound",
]
