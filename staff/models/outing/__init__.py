"""The rows of this shelf, handed on."""

from staff.models.outing.campaign import Campaign, CampaignArea, CampaignMember, Method, Session, SessionPlace
from staff.models.outing.outing import (
    Assignment,
    Crew,
    CrewShape,
    Outing,
    OutingChange,
    OutingMove,
    Withdrawal,
)
from staff.models.outing.outing_steps import CommunityNotice, DayWish, KitTick

__all__ = [
    "Assignment",
    "Campaign",
    "CampaignArea",
    "CampaignMember",
    "CommunityNotice",
    "Crew",
    "CrewShape",
    "DayWish",
    "KitTick",
    "Method",
    "Outing",
    "OutingChange",
    "OutingMove",
    "Session",
    "SessionPlace",
    "Withdrawal",
]
