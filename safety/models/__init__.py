from safety.models.animal.animal import AnimalCheck, AnimalLink, AnimalOutcome, Observation, Outcome, Seen
from safety.models.case.case import Decision, Immunoglobulin, Referral, Visit
from safety.models.case.choices import Animal, AnimalSign, Answer, BodySite, Cause, ContactKind, Kind, Task
from safety.models.case.incident import Incident, WashSpell, Wound
from safety.models.clinic.clinic import Clinic, Stock
from safety.models.course.course import Course, CourseDate, CourseFact, EndKind, PlanChange, PlannedDose
from safety.models.crew_day.outing_day import CrewReturn, Departure, DeparturePerson, Missing, ReturnTally
from safety.models.notices.absence import Absence
from safety.models.notices.feed import CalendarFeed, FeedEntry
from safety.models.notices.notice import MailboxMessage, Notice, NoticeEvent
from safety.models.notices.plan_row import PlanRow, PlanSubject
from safety.models.phone.phone import HandledTally, PhoneLink, PhoneMessage, SealKey
from safety.models.upkeep.heartbeat import Heartbeat

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
