"""What happens in the simulated year: bites, clinics that are late, slips of the pen, and a desk that is worked daily.

Every change goes through the services, with the simulated instant as `now`. What concerns a course is written down a
second time, as raw events, for the recomputation in `year_check`.
"""

from __future__ import annotations

import uuid
from datetime import datetime

from safety.models import Decision, Incident, Visit
from safety.models.case.choices import Animal, ContactKind, Kind
from safety.services.case.incident_facts import IncidentReport, WoundReport
from safety.services.case.referrals import referral_make
from safety.services.case.typed_reports import incident_report
from safety.services.case.visits import visit_decide, visit_record
from safety.services.case.washing import wash_add
from staff.models import Person, Purpose
from staff.services.outing.outings import outing_create
from staff.services.outing.roster import roster_assign
from staff.services.record.people import person_update
from staff.services.record.records import dose_record
from tests.faults.year_agenda import DAY, HOUR, MINUTE
from tests.faults.year_check import Address
from tests.faults.year_courses import Courses
from tests.faults.year_world import Place, begins_in_the_year, some_day

# Hour at which the liaison works the list, by the site's clocks.
DESK_HOUR = 16


class Life(Courses):
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
            self.begin(place, incident, now)
        elif decision == Decision.PENDING:
            later = place.at(today + self.dice.randrange(1, 4) * DAY, 10)
            self.plan(later, lambda at: self._decide(place, visit, at))
        elif decision == Decision.REFERRED_ON:
            self.plan(place.at(today + DAY, 18), lambda at: self._visit(place, incident, 1, at))
        else:
            self.close(place, incident, now)

    def _decide(self, place: Place, visit: Visit, now: datetime) -> None:
        decision = Decision.COURSE if self.dice.random() < 0.7 else Decision.NO_COURSE
        visit_decide(actor=place.liaison, visit=visit, decision=decision, now=now)
        if decision == Decision.COURSE:
            self.begin(place, visit.incident, now)
        else:
            self.close(place, visit.incident, now)
