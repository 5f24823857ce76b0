from safety.models.absence import Absence
from safety.models.animal import AnimalCheck, AnimalLink, AnimalOutcome, Observation, Outcome, Seen
from safety.models.case import Decision, Immunoglobulin, Referral, Visit
from safety.models.choices import Animal, AnimalSign, Answer, BodySite, Cause, ContactKind, Kind, Task
from safety.models.clinic import Clinic, Stock
from safety.models.course import Course, CourseDate, CourseFact, EndKind, PlanChange, PlannedDose
from safety.models.feed import CalendarFeed, FeedEntry
from safety.models.heartbeat import Heartbeat
from safety.models.incident import Incident, WashSpell, Wound
from safety.models.notice import MailboxMessage, Notice, NoticeEvent
from safety.models.outing_day import CrewReturn, Departure, DeparturePerson, Missing, ReturnTally
from safety.models.phone import HandledTally, PhoneLink, PhoneMessage, SealKey
from safety.models.plan_row import PlanRow, PlanSubject

__all__ = [
    "Absence",
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
    "CourseDate",
    "CourseFact",
    "CrewReturn",
    "Decision",
    "Departure",
    "DeparturePerson",
    "EndKind",
    "FeedEntry",
    "HandledTally",
    "Heartbeat",
    "Immunoglobulin",
    "Incident",
    "Kind",
    "MailboxMessage",
    "Missing",
    "Notice",
    "NoticeEvent",
    "Observation",
    "Outcome",
    "PhoneLink",
    "PhoneMessage",
    "PlanChange",
    "PlanRow",
    "PlanSubject",
    "PlannedDose",
    "Referral",
    "ReturnTally",
    "SealKey",
    "Seen",
    "Stock",
    "Task",
    "Visit",
    "WashSpell",
    "Wound",
]
