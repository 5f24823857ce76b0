"""The courses of the simulated year: clinics that are late, slips of the pen, and a desk that is worked daily."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from random import Random

from safety.models import Course, Incident, PlannedDose
from safety.services.case.closing import incident_close
from safety.services.course.course import course_start
from safety.services.course.course_changes import Elsewhere, course_move
from safety.services.course.course_doses import course_dose_record
from safety.services.course.course_ending import course_end, course_resume
from safety.services.course.dose_voids import course_dose_void
from staff.models import Dose
from tests.faults.year_agenda import DAY, HOUR, Agenda
from tests.faults.year_check import Begun, Ended, Given, Moved, Resumed, Voided, hour_on
from tests.faults.year_world import Place, immunised_before, table_steps

# Days by which a clinic that is late is late, drawn evenly; the longest make a course start again where the rule is so.
DELAYS = (1, 1, 1, 2, 2, 3, 4, 6, 9)
HOME_ZONE = "Asia/Kolkata"
# Days after which a person who never comes is given up, on the clinician's word.
GIVEN_UP_AFTER = 12


@dataclass
class CourseLife:
    """What will become of one course: days of delay by dose, the dose after which it is stopped or abandoned."""

    course: Course
    place: Place
    delays: dict[int, int] = field(default_factory=dict)
    stop_after: int | None = None
    abandon_after: int | None = None
    on_the_way: bool = False
    slips: list[str] = field(default_factory=list)


class Courses(Agenda):
    def __init__(self, places: list[Place], first: date, days: int, dice: Random) -> None:
        super().__init__(places, first, days, dice)
        self.courses: dict[int, CourseLife] = {}
        self.steps = table_steps()

    def begin(self, place: Place, incident: Incident, now: datetime) -> None:
        person, today = incident.person, place.site.local_date(now)
        # The last of a site's list is for the immunised.
        fitting = [code for code in place.regimens if ("immunised" in code) == immunised_before(person)]
        code = self.dice.choice(fitting)
        starts_on = today + self.dice.choice((0, 0, 0, 1)) * DAY
        course = course_start(
            actor=place.liaison,
            incident=incident,
            regimen=place.regimens[code],
            starts_on=starts_on,
            now=now,
            confirmed=True,
        )
        rules = place.site.rules
        restart_after = rules.restart_after_days
        self.events.append(
            Begun(
                now,
                course.pk,
                place.site.code,
                person.pk,
                self.steps[code],
                rules.late_rule,
                restart_after,
                starts_on,
            )
        )
        self.courses[course.pk] = life = CourseLife(course, place)
        fate = self.dice.random()
        if fate < 0.08:
            life.stop_after = 1
        elif fate < 0.12:
            life.abandon_after = 1
        elif fate < 0.16:
            self.plan(place.at(today + 2 * DAY, 13), lambda at: self._move(life, at))
        self.tally[f"courses on {code}"] += 1
        if starts_on == today and not self._delay(life, 1):
            life.on_the_way = True
            self.plan(now + HOUR, lambda at: self._slip_or_record(life, today, at))

    def _move(self, life: CourseLife, now: datetime) -> None:
        """The person travels home; the course goes on where the clocks are others."""
        if not self._runs(life):
            return
        elsewhere = Elsewhere(place="Hospital at home", phone="000 9", time_zone=HOME_ZONE)
        course_move(
            actor=life.place.liaison,
            course=life.course,
            to=elsewhere,
            reason="The person went home.",
            now=now,
        )
        self.events.append(Moved(now, life.course.pk, HOME_ZONE))
        # To the year's end: a course that begins again goes on for as long as it takes.
        for day in range((self.first + self.days * DAY - now.date()).days + 1):
            turn = hour_on(HOME_ZONE, now.date() + day * DAY, life.place.facts.hour)
            if turn > now:
                self.day_turns(turn)
        self.tally["courses that went on in another zone"] += 1

    def _runs(self, life: CourseLife) -> bool:
        return Course.objects.filter(pk=life.course.pk, ended_on__isnull=True).exists()

    def desk(self, place: Place, now: datetime) -> None:
        """The liaison goes through the list: what the clinic gave is recorded, what is over is ended and closed."""
        running = PlannedDose.objects.filter(
            course__ended_on__isnull=True, course__incident__site=place.site
        ).order_by("course", "number")
        rows: dict[int, list[PlannedDose]] = {}
        for dose in running:
            rows.setdefault(dose.course_id, []).append(dose)
        for course, doses in rows.items():
            self._work(self.courses[course], doses, now)

    def _work(self, life: CourseLife, doses: list[PlannedDose], now: datetime) -> None:
        today = life.place.site.local_date(now)
        following = next((dose for dose in doses if dose.given_on is None), None)
        given = sum(dose.given_on is not None for dose in doses)
        if following is None:
            self._end(life, "completed", "All doses are given.", now)
        elif life.stop_after is not None and given >= life.stop_after:
            life.stop_after = None
            self._end(life, "stopped", "The animal is well after its ten days.", now)
        elif life.abandon_after is not None and given >= life.abandon_after:
            if (today - following.due_on).days > GIVEN_UP_AFTER:
                self._end(life, "stopped", "The person moved away and declines the rest.", now)
        elif not life.on_the_way and today >= following.due_on + self._delay(life, following.number) * DAY:
            self._give(life, now)

    def _delay(self, life: CourseLife, number: int) -> int:
        """A clinic is late a third of the time."""
        if number not in life.delays:
            life.delays[number] = self.dice.choice(DELAYS) if self.dice.random() < 1 / 3 else 0
            self.tally["doses asked for"] += 1
            self.tally["doses the clinic is late with"] += life.delays[number] > 0
        return life.delays[number]

    def _give(self, life: CourseLife, now: datetime) -> None:
        """The clinic gives the dose today; most are recorded at once, the others the next morning."""
        today, place = life.place.site.local_date(now), life.place
        if self.dice.random() < 0.7:
            self._slip_or_record(life, today, now)
            return
        life.on_the_way = True
        self.plan(place.at(today + DAY, 9), lambda at: self._slip_or_record(life, today, at))
        self.tally["doses recorded the next day"] += 1

    def _slip_or_record(self, life: CourseLife, given_on: date, now: datetime) -> None:
        life.on_the_way = False
        slip = self.dice.random()
        if slip < 0.06:
            wrong = self.record(life, given_on - DAY, now, "dose on a wrong day")
            if wrong is not None:
                life.on_the_way = True
                self.plan(now + 2 * HOUR, lambda at: self._correct(life, wrong, given_on, at))
                return
        elif slip < 0.12:
            assert self.record(life, given_on + 3 * DAY, now, "dose in the future") is None
        self.record(life, given_on, now, "doses of courses recorded")
        if 0.12 <= slip < 0.2:
            assert self.record(life, given_on, now, "same dose twice") is None
        elif 0.2 <= slip < 0.26:
            self.plan(life.place.at(given_on + DAY, 12), lambda at: self._too_early(life, at))

    def _correct(self, life: CourseLife, wrong: Dose, right: date, now: datetime) -> None:
        life.on_the_way = False
        course_dose_void(
            actor=life.place.liaison, course=life.course, dose=wrong, reason="The day was wrong.", now=now
        )
        self.events.append(Voided(now, life.course.pk, wrong.pk))
        self.tally["doses voided"] += 1
        self.record(life, right, now, "doses of courses recorded")

    def _too_early(self, life: CourseLife, now: datetime) -> None:
        """A day after a dose another one is written down; where it is ticked that the paper says so, it is voided later."""
        if not self._runs(life):
            return
        today, ticked = life.place.site.local_date(now), self.dice.random() < 0.5
        early = self.record(life, today, now, "dose too early", ticked=ticked)
        if early is not None:
            self.plan(now + DAY, lambda at: self._take_back(life, early, at))

    def _take_back(self, life: CourseLife, dose: Dose, now: datetime) -> None:
        course_dose_void(
            actor=life.place.liaison,
            course=life.course,
            dose=dose,
            reason="It was another person's.",
            now=now,
        )
        self.events.append(Voided(now, life.course.pk, dose.pk))
        self.tally["doses voided"] += 1

    def record(
        self, life: CourseLife, given_on: date, now: datetime, what: str, *, ticked: bool = True
    ) -> Dose | None:
        """What is odd is asked back first; `ticked`: then the clinic's paper is said to say so."""
        kept: list[Dose] = []

        def keep(confirmed: bool) -> None:
            dose = course_dose_record(
                actor=life.place.liaison, course=life.course, given_on=given_on, now=now, confirmed=confirmed
            )
            kept.append(dose)

        refusal = self.attempt(what, lambda: keep(False))
        if refusal and ticked and "confirmed" in refusal.fields:
            self.attempt(f"{what}, asked back", lambda: keep(True))
        if not kept:
            return None
        self.events.append(Given(now, life.course.pk, kept[0].pk, given_on))
        return kept[0]

    def _end(self, life: CourseLife, kind: str, reason: str, now: datetime) -> None:
        place, today = life.place, life.place.site.local_date(now)
        course_end(
            actor=place.liaison,
            course=life.course,
            ended_on=today,
            kind=kind,
            reason=reason,
            said_by="Dr Test",
            now=now,
        )
        self.events.append(Ended(now, life.course.pk))
        self.tally[f"courses ended: {kind}"] += 1
        if kind == "stopped" and self.dice.random() < 0.5:
            self.plan(now + self.dice.randrange(1, 6) * DAY, lambda at: self._resume(life, at))
        else:
            self.close(place, life.course.incident, now)

    def _resume(self, life: CourseLife, now: datetime) -> None:
        course_resume(
            actor=life.place.liaison, course=life.course, reason="The laboratory asks for it.", now=now
        )
        life.abandon_after = None
        self.events.append(Resumed(now, life.course.pk))
        self.tally["courses resumed"] += 1

    def close(self, place: Place, incident: Incident, now: datetime) -> None:
        incident_close(
            actor=place.liaison,
            incident=incident,
            reason="Nothing is open any more.",
            now=now,
            without_details=True,
        )
        self.tally["cases closed"] += 1
