"""Pages of the safety package."""

from __future__ import annotations

from django.urls import path

from safety.pages.animal import animal_link, observation
from safety.pages.case import answer, case, cases, clinic_side, closing, desk, letter, report, visits, washing
from safety.pages.clinic import clinics
from safety.pages.course import course_changes, course_regimen, course_start, courses, doses
from safety.pages.crew_day import departure_voids, departures, returns
from safety.pages.lessons import figures
from safety.pages.notices import absences, coming, feed, notice, outbox, seen, site_plan, site_plan_change
from safety.pages.phone import cards, held, held_steps, phone, phone_crew
from safety.pages.upkeep import health, metrics, status
from staff.doors.status import check_kinds

# Not "str": PostgreSQL answers a NUL in an address with an error of its own.
CASE = "cases/<slug:reference>/"
ANIMAL = f"{CASE}animal/"
HELD = "reports-waiting/<uuid:key>/"
COURSE = "courses/<int:pk>/"
CREW = "outings/<int:pk>/crews/<int:crew_pk>/"

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
    path(f"{HELD}take/", held_steps.held_taking, name="held-take"),
    path(f"{HELD}place/", held_steps.held_placing, name="held-place"),
    path(f"{HELD}set-aside/", held_steps.held_aside, name="held-set-aside"),
    path("cases/", cases.cases, name="cases"),
    path(CASE, case.case, name="case"),
    path(f"{CASE}washing/", washing.wash_adding, name="case-washing"),
    path(f"{CASE}washing/start/", washing.wash_starting, name="wash-start"),
    path(f"{CASE}washing/stop/", washing.wash_stopping, name="wash-stop"),
    path(f"{CASE}washing/<int:spell>/void/", washing.wash_voiding, name="wash-void"),
    path(f"{CASE}referral/", clinic_side.referral, name="case-referral"),
    path(f"{CASE}visit/", clinic_side.visit, name="case-visit"),
    path(f"{CASE}visits/<int:visit_id>/decision/", clinic_side.decision, name="case-decision"),
    path(f"{CASE}visits/<int:visit_id>/void/", visits.visit_voiding, name="case-visit-void"),
    path(f"{CASE}visits/<int:visit_id>/immunoglobulin/", visits.immunoglobulin, name="case-immunoglobulin"),
    path(f"{CASE}referrals/<int:referral_id>/void/", visits.referral_voiding, name="case-referral-void"),
    path(f"{CASE}course/", course_start.course, name="case-course"),
    path(f"{CASE}course/by-name/", course_changes.named, name="case-course-named"),
    path(f"{CASE}answer/", answer.answer, name="case-answer"),
    path(f"{CASE}letter/", letter.letter, name="case-letter"),
    path(f"{CASE}letter.pdf", letter.letter_file, name="case-letter-file"),
    path(ANIMAL, observation.begin, name="animal"),
    path(f"{ANIMAL}void/", observation.voiding, name="animal-void"),
    path(f"{ANIMAL}check/", observation.check, name="animal-check"),
    path(f"{ANIMAL}checks/<int:check_id>/void/", observation.check_voiding, name="animal-check-void"),
    path(f"{ANIMAL}outcome/", observation.outcome, name="animal-outcome"),
    path(f"{ANIMAL}outcomes/<int:outcome_id>/void/", observation.outcome_voiding, name="animal-outcome-void"),
    path(f"{ANIMAL}card/", animal_link.card, name="animal-card"),
    path(f"{ANIMAL}card/end/", animal_link.card_ending, name="animal-card-end"),
    path("animal/<slug:code>/", animal_link.word, name="animal-word"),
    path(f"{CASE}close/", closing.close, name="case-close"),
    path(f"{CASE}reopen/", closing.reopen, name="case-reopen"),
    path(f"{COURSE}doses/", courses.dose, name="course-dose"),
    path(f"{COURSE}doses/<int:dose_id>/void/", courses.dose_voiding, name="course-dose-void"),
    path(f"{COURSE}end/", courses.ending, name="course-end"),
    path(f"{COURSE}resume/", course_changes.resuming, name="course-resume"),
    path(f"{COURSE}dates/", course_changes.dates, name="course-dates"),
    path(f"{COURSE}regimen/", course_regimen.regimen, name="course-regimen"),
    path(f"{COURSE}place/", course_changes.place, name="course-place"),
    path(f"{CREW}leaving/", departures.leaving, name="crew-leaving"),
    path(f"{CREW}leaving/void/", departure_voids.leaving_voiding, name="crew-leaving-void"),
    path(f"{CREW}back/", returns.back, name="crew-back"),
    path(f"{CREW}back/void/", returns.back_voiding, name="crew-back-void"),
    path("desk/", desk.desk, name="desk"),
    path("follow-up/figures/", figures.figures, name="follow-up-figures"),
    path("doses/", doses.doses_list, name="doses-due"),
    path("notices/", outbox.notices, name="notices"),
    path("notices/coming/", coming.notices_coming, name="notices-coming"),
    path("notices/<int:pk>/", notice.notice, name="notice"),
    path("notices/<int:pk>/send-again/", notice.notice_again, name="notice-again"),
    path("seen/<str:token>/", seen.seen, name="notice-seen"),
    path("sites/<slug:code>/plan/", site_plan.site_plan, name="site-plan"),
    path("sites/<slug:code>/plan/<slug:what>/", site_plan_change.site_plan_subject, name="site-plan-subject"),
    path("absences/", absences.absences, name="absences"),
    path("absences/add/", absences.absence_adding, name="absence-add"),
    path("absences/<int:pk>/end/", absences.absence_ending, name="absence-end"),
    path("mailbox/", outbox.mailbox, name="mailbox"),
    path("clinics/", clinics.clinics, name="clinics"),
    path("clinics/add/", clinics.add, name="clinic-add"),
    path("clinics/<int:pk>/", clinics.confirm, name="clinic-confirm"),
    path("account/calendar/", feed.making, name="calendar-make"),
    path("account/calendar/end/", feed.ending, name="calendar-end"),
    path("people/<int:pk>/calendar/", feed.person_calendar, name="person-calendar"),
    path("calendar/<slug:code>.ics", feed.feed, name="calendar-feed"),
    path("status/", status.status, name="status"),
    path("metrics", metrics.metrics, name="metrics"),
    path("healthz", health.healthz, name="healthz"),
]

# Every page and every door of the API is loaded by now, and with them every refusal.
check_kinds()
