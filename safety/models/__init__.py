from safety.models.animal import AnimalCheck, AnimalLink, AnimalOutcome, Observation, Outcome, Seen
from safety.models.case import Course, Decision, PlannedDose, Referral, Visit
from safety.models.choices import Animal, AnimalSign, Answer, BodySite, Cause, ContactKind, Kind, Task
from safety.models.clinic import Clinic, Stock
from safety.models.feed import CalendarFeed, FeedEntry
from safety.models.incident import Incident, WashSpell, Wound
from safety.models.notice import MailboxMessage, Notice, NoticeEvent
from safety.models.phone import HandledTally, PhoneLink, PhoneMessage, SealKey

__all__ = [
    "Animal",
    "AnimalCheck",
    "AnimalLink",
    "AnimalOutcome",
    "AnimalSign",
    "Answer",
    "BodySite",
    "CalendarFeed",
    "Cause",
    "Clinic",
    "ContactKind",
    "Course",
    "Decision",
    "FeedEntry",
    "HandledTally",
    "Incident",
    "Kind",
    "MailboxMessage",
    "Notice",
    "NoticeEvent",
    "Observation",
    "Outcome",
    "PhoneLink",
    "PhoneMessage",
    "PlannedDose",
    "Referral",
    "SealKey",
    "Seen",
    "Stock",
    "Task",
    "Visit",
    "WashSpell",
    "Wound",
]
