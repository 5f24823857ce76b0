"""What happens in the simulated year: bites, clinics that are late, slips of the pen, and a desk that is worked daily.

Every change goes through the services, with the simulated instant as `now`. What concerns a course is written down a
second time, as raw events, for the recomputation in `year_check`.
"""

from __future__ import annotations

import heapq
import itertools
import uuid
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from random import Random

from safety.models import Course, Decision, Incident, PlannedDose, Visit
from safety.models.case.choices import Animal, ContactKind, Kind
from safety.services.case.closing import incident_close
from safety.services.case.incident_facts import IncidentReport, WoundReport
from safety.services.case.referrals import referral_make
from safety.services.case.typed_reports import incident_report
from safety.services.case.visits import visit_decide, visit_record
from safety.services.case.washing import wash_add
from safety.services.course.course import course_start
from safety.services.course.course_changes import Elsewhere, course_move
from safety.services.course.course_doses import course_dose_record, course_dose_void
from safety.services.course.course_ending import course_end, course_resume
from staff.ground.errors import Refused
from staff.models import Dose, Person, Purpose
from staff.services.outing.outings import outing_create
from staff.services.outing.roster import roster_assign
from staff.services.record.people import person_update
from staff.services.record.records import dose_record
from tests.faults.year_check import Address, Begun, Ended, Event, Given, Moved, Resumed, Voided, hour_on
from tests.faults.year_world import Place, begins_in_the_year, immunised_before, some_day, table_steps

DAY, HOUR, MINUTE = timedelta(days=1), timedelta(hours=1), timedelta(minutes=1)
# Hour at which the liaison works the list, by the site's clocks.
DESK_HOUR = 16
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


class Life:
    def __init__(self, places: list[Place], first: date, days: int, dice: Random) -> None:
        self.places, self.first, self.days, self.dice = places, first, days, dice
        self.turns = itertools.count()
        self.agenda: list[tuple[datetime, int, Callable[[datetime], object]]] = []
        self.events: list[Event] = []
        # Instants at which a change has to wait for the tick, for nobody rings after it.
        self.ticks: set[datetime] = set()
        self.courses: dict[int, CourseLife] = {}
        self.tally: Counter[str] = Counter()
        self.steps = table_steps()

    # The agenda

    def plan(self, at: datetime, act: Callable[[datetime], object]) -> None:
        heapq.heappush(self.agenda, (at, next(self.turns), act))

    def day_turns(self, at: datetime) -> None:
        """Somewhere it is the hour of reminders."""
        self.ticks.add(at)
        self.plan(at, lambda _now: None)

    def due(self, by: datetime) -> bool:
        return bool(self.agenda) and self.agenda[0][0] <= by

    def play(self, now: datetime) -> bool:
        """Do everything planned for `now`; whether any of it changed something."""
        before = self.tally.total()
        while self.due(now):
            heapq.heappop(self.agenda)[2](now)
        return self.tally.total() > before

    def lay_out(self, incidents: int, start: datetime, bites_for: int) -> None:
        """Everything that is known when the year begins; bites happen on its first `bites_for` days."""
        for place in self.places:
            for person in place.people:
                self.events.append(Address(start, person.pk, person.email))
                if begins_in_the_year(person):
                    self._immunise_later(place, person)
            for day in range(self.days):
                self.plan(place.at(self.first + day * DAY, DESK_HOUR), lambda now, p=place: self.desk(p, now))
            for day in range(9, self.days - 14, 14):
                self.plan(place.at(self.first + day * DAY, 9), lambda now, p=place: self.send_out(p, now))
        everybody = [(place, person) for place in self.places for person in place.people]
        bitten = self.dice.sample(everybody, incidents)
        for place, person in bitten:
            self._bite(place, person, bites_for)
        for place, person in self.dice.sample(everybody, len(everybody) // 30):
            leaves = some_day(self.dice, self.first + 20 * DAY, self.days - 30)
            self.plan(place.at(leaves, 12), lambda now, p=place, one=person: self._leave(p, one, now))

    def _immunise_later(self, place: Place, person: Person) -> None:
        day = some_day(self.dice, self.first + DAY, max(2, self.days - 25))
        for gap in (0, 7, 21 + self.dice.choice((0, 0, 0, 5))):
            at = place.at(day + gap * DAY, 11)
            self.plan(at, lambda now, p=place, one=person: self._immunise(p, one, now))

    def _immunise(self, place: Place, person: Person, now: datetime) -> None:
        self.attempt(
            "dose before field work",
            lambda: dose_record(
                actor=place.officers[1],
                person=person,
                given_on=place.site.local_date(now),
                route="IM",
                now=now,
                purpose=Purpose.PRE_EXPOSURE,
            ),
        )

    def _leave(self, place: Place, person: Person, now: datetime) -> None:
        last = place.site.local_date(now)
        person_update(actor=place.officers[0], person=person, now=now, active_until=last)
        self.tally["members who left"] += 1

    def attempt(self, what: str, act: Callable[[], object]) -> Refused | None:
        """The refusal if the service refused, which is part of life and counted by its code."""
        try:
            act()
        except Refused as refused:
            self.tally[f"refused: {what} ({refused.code})"] += 1
            return refused
        self.tally[what] += 1
        return None

    def send_out(self, place: Place, now: datetime) -> None:
        """An outing in two days with whoever of six people may go."""
        outing = outing_create(
            actor=place.officers[0],
            site_id=place.site.pk,
            date=place.site.local_date(now) + 2 * DAY,
            area="North",
            method="house-to-house",
            now=now,
        )
        self.tally["outings"] += 1
        crew = outing.crews.get()
        for person in self.dice.sample(place.people, min(6, len(place.people))):
            self.attempt(
                "put on a roster",
                lambda person=person: roster_assign(  # type: ignore[misc]
                    actor=place.officers[0], outing=outing, crew=crew, person=person, role="catcher", now=now
                ),
            )

    # From the bite to the decision

    def _bite(self, place: Place, person: Person, days: int) -> None:
        day = some_day(self.dice, self.first + 5 * DAY, max(1, days - 5))
        happened = place.at(day, self.dice.randrange(8, 15), self.dice.randrange(60))
        if self.dice.random() < 0.06 and person.email:
            # A wrong letter in the address, found out and corrected later.
            self.plan(
                happened - HOUR,
                lambda now: self._address(place, person, f"bounces-{person.number}@example.org", now),
            )
            right = person.email
            self.plan(happened + 6 * DAY, lambda now: self._address(place, person, right, now))
        at = happened.replace(minute=0) + self.dice.choice((1, 1, 2)) * HOUR
        self.plan(at, lambda now: self._report(place, person, happened, now))

    def _address(self, place: Place, person: Person, email: str, now: datetime) -> None:
        person_update(actor=place.liaison, person=person, now=now, email=email)
        self.events.append(Address(now, person.pk, email))
        self.ticks.add(now)
        self.tally["addresses changed"] += 1

    def _report(self, place: Place, person: Person, happened: datetime, now: datetime) -> None:
        contact, broke = self.dice.choice(
            ((ContactKind.BITTEN, "yes"), (ContactKind.BITTEN, "unknown"), (ContactKind.SCRATCHED, "no"))
        )
        kind = Kind.SCRATCH if contact == ContactKind.SCRATCHED else Kind.BITE
        report = IncidentReport(
            kind=kind,
            happened_at=happened,
            wounds=(WoundReport(contact=contact, body_site="hand", broke_skin=broke, bled=broke),),
            animal=Animal.DOG_ROAMING,
            narrative="By the well, while the net was being opened.",
            washed_minutes=self.dice.choice((15, 15, 15, 5, 0, None)),
            soap="yes",
        )
        key = uuid.UUID(int=self.dice.getrandbits(128), version=4)
        actor = place.officers[0]
        reported = incident_report(actor=actor, person=person, key=key, report=report, now=now)
        if self.dice.random() < 0.3:
            again = incident_report(actor=actor, person=person, key=key, report=report, now=now)
            assert again.incident == reported.incident and not again.made
            self.tally["reports sent twice, kept once"] += 1
        self.tally["incidents"] += 1
        self.ticks.add(now)
        incident = reported.incident
        if report.washed_minutes is None:
            self.plan(now + HOUR, lambda at: self._wash(place, incident, happened, at))
        self.plan(now + HOUR, lambda at: self._refer(place, incident, at))

    def _wash(self, place: Place, incident: Incident, happened: datetime, now: datetime) -> None:
        started, stopped = happened + MINUTE, happened + 16 * MINUTE
        wash_add(
            actor=place.liaison,
            incident=incident,
            started_at=started,
            stopped_at=stopped,
            soap="yes",
            now=now,
        )
        self.tally["washings written down afterwards"] += 1

    def _refer(self, place: Place, incident: Incident, now: datetime) -> None:
        referral_make(actor=place.liaison, incident=incident, clinic=place.clinics[0], now=now)
        wait = 0 if self.dice.random() < 0.75 else self.dice.randrange(1, 4)
        seen = place.at(place.site.local_date(now) + wait * DAY, 10) if wait else now + HOUR
        self.tally["visits on a later day"] += wait > 0
        self.plan(seen, lambda at: self._visit(place, incident, 0, at))

    def _visit(self, place: Place, incident: Incident, clinic: int, now: datetime) -> None:
        said = self.dice.random()
        decision = (
            Decision.COURSE
            if said < 0.8 or clinic
            else Decision.PENDING
            if said < 0.9
            else Decision.REFERRED_ON
            if said < 0.95
            else Decision.NO_COURSE
        )
        today = place.site.local_date(now)
        visit = visit_record(
            actor=place.liaison,
            incident=incident,
            clinic=place.clinics[clinic],
            visited_on=today,
            decision=decision,
            now=now,
        )
        self.tally[f"visits: {decision}"] += 1
        if decision == Decision.COURSE:
            self._begin(place, incident, now)
        elif decision == Decision.PENDING:
            later = place.at(today + self.dice.randrange(1, 4) * DAY, 10)
            self.plan(later, lambda at: self._decide(place, visit, at))
        elif decision == Decision.REFERRED_ON:
            self.plan(place.at(today + DAY, 18), lambda at: self._visit(place, incident, 1, at))
        else:
            self._close(place, incident, now)

    def _decide(self, place: Place, visit: Visit, now: datetime) -> None:
        decision = Decision.COURSE if self.dice.random() < 0.7 else Decision.NO_COURSE
        visit_decide(actor=place.liaison, visit=visit, decision=decision, now=now)
        if decision == Decision.COURSE:
            self._begin(place, visit.incident, now)
        else:
            self._close(place, visit.incident, now)

    def _close(self, place: Place, incident: Incident, now: datetime) -> None:
        incident_close(
            actor=place.liaison,
            incident=incident,
            reason="Nothing is open any more.",
            now=now,
            without_details=True,
        )
        self.tally["cases closed"] += 1

    # The course

    def _begin(self, place: Place, incident: Incident, now: datetime) -> None:
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
            self._close(place, life.course.incident, now)

    def _resume(self, life: CourseLife, now: datetime) -> None:
        course_resume(
            actor=life.place.liaison, course=life.course, reason="The laboratory asks for it.", now=now
        )
        life.abandon_after = None
        self.events.append(Resumed(now, life.course.pk))
        self.tally["courses resumed"] += 1
