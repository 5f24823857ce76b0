"""Doors of the staff package under /api/v1/."""

from __future__ import annotations

from django.urls import URLPattern, path

from staff.api.docs import DocsPage, SchemaDoor
from staff.api.outing.kit import KitDoor
from staff.api.outing.outing_details import DetailsDoor
from staff.api.outing.outings import AssignmentsDoor, OutingsDoor
from staff.api.record.clearance import ClearanceDoor
from staff.api.record.explained import ExplainedDoor
from staff.api.regimen.regimens import RegimenDoor, RegimensDoor
from staff.api.regimen.schedule import ScheduleDoor
from staff.api.regimen.series import SeriesDoor

urlpatterns: list[URLPattern] = [
    path("regimens/", RegimensDoor.as_view(), name="api-regimens"),
    path("regimens/<slug:code>/", RegimenDoor.as_view(), name="api-regimen"),
    path("regimens/<slug:code>/schedule/", ScheduleDoor.as_view(), name="api-schedule"),
    path("regimens/<slug:code>/series/", SeriesDoor.as_view(), name="api-series"),
    path("clearance/", ClearanceDoor.as_view(), name="api-clearance"),
    path("people/<int:pk>/clearance/", ExplainedDoor.as_view(), name="api-explained"),
    path("outings/", OutingsDoor.as_view(), name="api-outings"),
    path("outings/<int:pk>/details/", DetailsDoor.as_view(), name="api-outing-details"),
    path("outings/<int:pk>/assignments/", AssignmentsDoor.as_view(), name="api-assignments"),
    path("outings/<int:pk>/kit/", KitDoor.as_view(), name="api-kit"),
    path("schema/", SchemaDoor.as_view(), name="schema"),
    path("docs/", DocsPage.as_view(), name="api-docs"),
]
