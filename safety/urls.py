"""Pages of the safety package."""

from __future__ import annotations

from django.urls import path

from safety.pages import (
    cards,
    case,
    clinic_side,
    clinics,
    courses,
    desk,
    doses,
    figures,
    health,
    held,
    letter,
    outbox,
    phone,
    phone_crew,
    report,
    washing,
)

# Not "str": PostgreSQL answers a NUL in an address with an error of its own.
CASE = "cases/<slug:reference>/"
HELD = "reports-waiting/<uuid:key>/"
COURSE = "courses/<int:pk>/"

urlpatterns = [
    path("report/", report.report, name="report"),
    path("report/sent/<slug:reference>/", report.report_sent, name="report-sent"),
    path("phone/", phone.phone, name="phone"),
    path("phone/worker.js", phone.worker, name="phone-worker"),
    path("phone/files/<slug:version>/<str:name>", phone.file, name="phone-file"),
    path("phone/crew/", phone_crew.crew, name="phone-crew"),
    path("people/<int:pk>/phone-card/", cards.phone_card, name="phone-card"),
    path("reports-waiting/", held.held_messages, name="held-messages"),
    path(HELD, held.held_message, name="held-message"),
    path(f"{HELD}take/", held.held_taking, name="held-take"),
    path(f"{HELD}place/", held.held_placing, name="held-place"),
    path(f"{HELD}set-aside/", held.held_aside, name="held-set-aside"),
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
    path(f"{CASE}answer/", clinic_side.answer, name="case-answer"),
    path(f"{CASE}letter/", letter.letter, name="case-letter"),
    path(f"{CASE}letter.pdf", letter.letter_file, name="case-letter-file"),
    path(f"{CASE}close/", clinic_side.close, name="case-close"),
    path(f"{CASE}reopen/", clinic_side.reopen, name="case-reopen"),
    path(f"{COURSE}doses/", courses.dose, name="course-dose"),
    path(f"{COURSE}doses/<int:dose_id>/void/", courses.dose_voiding, name="course-dose-void"),
    path(f"{COURSE}end/", courses.ending, name="course-end"),
    path("desk/", desk.desk, name="desk"),
    path("follow-up/figures/", figures.figures, name="follow-up-figures"),
    path("doses/", doses.doses_list, name="doses-due"),
    path("notices/", outbox.notices, name="notices"),
    path("notices/<int:pk>/", outbox.notice, name="notice"),
    path("mailbox/", outbox.mailbox, name="mailbox"),
    path("clinics/", clinics.clinics, name="clinics"),
    path("clinics/add/", clinics.add, name="clinic-add"),
    path("clinics/<int:pk>/", clinics.confirm, name="clinic-confirm"),
    path("healthz", health.healthz, name="healthz"),
]
