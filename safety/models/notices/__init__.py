"""The rows of this shelf, handed on."""

from safety.models.notices.absence import Absence
from safety.models.notices.feed import CalendarFeed, FeedEntry
from safety.models.notices.notice import MailboxMessage, Notice, NoticeEvent
from safety.models.notices.plan_row import PlanRow, PlanSubject

__all__ = [
    "Absence",
    "CalendarFeed",
    "FeedEntry",
    "MailboxMessage",
    "Notice",
    "NoticeEvent",
    "PlanRow",
    "PlanSubject",
]
