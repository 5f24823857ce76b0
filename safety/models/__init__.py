from safety.models.case import Course, Decision, PlannedDose, Referral, Visit
from safety.models.choices import Animal, AnimalSign, Answer, BodySite, Cause, ContactKind, Kind, Task
from safety.models.clinic import Clinic, Stock
from safety.models.incident import Incident, WashSpell, Wound
from safety.models.notice import MailboxMessage, Notice, NoticeEvent
from safety.models.phone import HandledTally, PhoneLink, PhoneMessage, SealKey
from safety.models.plan_row import PlanRow, PlanSubject

__all__ = [
    "Animal",
    "AnimalSign",
    "Answer",
    "BodySite",
    "Cause",
    "Clinic",
    "ContactKind",
    "Course",
    "Decision",
    "HandledTally",
    "Incident",
    "Kind",
    "MailboxMessage",
    "Notice",
    "NoticeEvent",
    "PhoneLink",
    "PhoneMessage",
    "PlanRow",
    "PlanSubject",
    "PlannedDose",
    "Referral",
    "SealKey",
    "Stock",
    "Task",
    "Visit",
    "WashSpell",
    "Wound",
]
