"""Pages of the safety package."""

from __future__ import annotations

from django.urls import path

from safety.pages import case, clinic_side, clinics, courses, health, outbox, report, washing

# Not "str": PostgreSQL answers a NUL in an address with an error of its own.
CASE = "cases/<slug:reference>/"
COURSE = "courses/<int:pk>/"

urlpatterns = [
    path("report/", report.report, name="report"),
    path("report/sent/<slug:reference>/", report.report_sent, name="report-sent"),
    path("cases/", case.cases, name="cases"),
    path(CASE, case.case, name="case"),
    path(f"{CASE}washing/", washing.wash_adding, name="case-washing"),
    path(f"{CASE}washing/start/", washing.wash_starting, name="wash-start"),
    path(f"{CASE}washing/stop/", washing.wash_stopping, name="wash-stop"),
    path(f"{CASE}washing/<int:spell>/void/", washing.wash_voiding, name="wash-void"),
    path(f"{CASE}referral/", clinic_side.referral, name="case-referral"),
    path(f"{CASE}visit/", clinic_side.visit, name="case-visit"),
    path(f"{CASE}visits/<int:visit_id>/decision/", clinic_side.decision, name="case-decision"),
    path(f"{CASE}course/", clinic_side.course, name="case-course"),
    path(f"{CASE}close/", clinic_side.close, name="case-close"),
    path(f"{CASE}reopen/", clinic_side.reopen, name="case-reopen"),
    path(f"{COURSE}doses/", courses.dose, name="course-dose"),
    path(f"{COURSE}doses/<int:dose_id>/void/", courses.dose_voiding, name="course-dose-void"),
    path(f"{COURSE}end/", courses.ending, name="course-end"),
    path("doses/", courses.doses_list, name="doses-due"),
    path("notices/", outbox.notices, name="notices"),
    path("notices/<int:pk>/", outbox.notice, name="notice"),
    path("mailbox/", outbox.mailbox, name="mailbox"),
    path("clinics/", clinics.clinics, name="clinics"),
    path("clinics/add/", clinics.add, name="clinic-add"),
    path("clinics/<int:pk>/", clinics.confirm, name="clinic-confirm"),
    path("healthz", health.healthz, name="healthz"),
]
