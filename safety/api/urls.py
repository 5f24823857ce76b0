"""Doors of the safety package under /api/v1/, and the end of the line for every other address there."""

from __future__ import annotations

from django.urls import URLPattern, path, re_path

from safety.api.animal.observation import AnimalChecksDoor, ObservationDoor
from safety.api.case.case_read import IncidentDoor
from safety.api.case.clinic_side import ReferralDoor, VisitDoor
from safety.api.case.incidents import IncidentsDoor
from safety.api.case.washing import WashingDoor
from safety.api.course.courses import CourseDoor
from safety.api.course.doses import CourseDosesDoor
from safety.api.notices.notices import NoticesDoor
from safety.api.phone.card import PhoneCardDoor
from safety.api.phone.messages import PhoneMessagesDoor
from safety.api.phone.phone import PhoneKeysDoor
from staff.doors.api import nowhere

urlpatterns: list[URLPattern] = [
    path("incidents/", IncidentsDoor.as_view(), name="api-incidents"),
    path("incidents/<str:reference>/", IncidentDoor.as_view(), name="api-incident"),
    path("incidents/<int:pk>/washing/", WashingDoor.as_view(), name="api-washing"),
    path("incidents/<int:pk>/referral/", ReferralDoor.as_view(), name="api-referral"),
    path("incidents/<int:pk>/visit/", VisitDoor.as_view(), name="api-visit"),
    path("incidents/<int:pk>/course/", CourseDoor.as_view(), name="api-course"),
    path("incidents/<int:pk>/observation/", ObservationDoor.as_view(), name="api-observation"),
    path("incidents/<int:pk>/observation/checks/", AnimalChecksDoor.as_view(), name="api-observation-checks"),
    path("courses/<int:pk>/doses/", CourseDosesDoor.as_view(), name="api-course-doses"),
    path("phone/messages/", PhoneMessagesDoor.as_view(), name="api-phone-messages"),
    path("phone/keys/", PhoneKeysDoor.as_view(), name="api-phone-keys"),
    path("phone/card/", PhoneCardDoor.as_view(), name="api-phone-card"),
    path("notices/", NoticesDoor.as_view(), name="api-notices"),
    re_path("", nowhere, name="api-nowhere"),
]
