from safety.models.case import Decision, Immunoglobulin, Referral, Visit
from safety.models.choices import Animal, AnimalSign, Answer, BodySite, Cause, ContactKind, Kind, Task
from safety.models.clinic import Clinic, Stock
from safety.models.course import Course, CourseDate, CourseFact, EndKind, PlanChange, PlannedDose
from safety.models.incident import Incident, WashSpell, Wound
from safety.models.notice import MailboxMessage, Notice, NoticeEvent
from safety.models.phone import HandledTally, PhoneLink, PhoneMessage, SealKey

__all__ = [
    "Animal",
    "AnimalSign",
    "Answer",
    "BodySite",
    "Cause",
    "Clinic",
    "ContactKind",
    "Course",
    "CourseDate",
    "CourseFact",
    "Decision",
    "EndKind",
    "HandledTally",
    "Immunoglobulin",
    "Incident",
    "Kind",
    "MailboxMessage",
    "Notice",
    "NoticeEvent",
    "PhoneLink",
    "PhoneMessage",
    "PlanChange",
    "PlannedDose",
    "Referral",
    "SealKey",
    "Stock",
    "Task",
    "Visit",
    "WashSpell",
    "Wound",
]
