"""Whatever happens to a record, in whatever order: the stored clearance is what the record gives, and nobody
stays on a coming outing without cover."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import hypothesis.strategies as st
import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    rule,
    run_state_machine_as_test,
)

from staff.ground.errors import NotCleared, Refused
from staff.models import (
    Assignment,
    Certificate,
    ClearancePending,
    Dose,
    Hold,
    Outing,
    Person,
    Purpose,
    Titre,
    Withdrawal,
)
from staff.rules.record.intervals import covers
from staff.selectors.record.documents import doses_without_document
from staff.selectors.record.readiness import readiness_of
from staff.selectors.record.records import RegimenBook, clearance_of
from staff.services.outing.outings import outing_cancel, outing_move
from staff.services.outing.roster import roster_assign, roster_withdraw
from staff.services.record.briefings import briefing_record
from staff.services.record.certificates import certificate_add, certificate_verify
from staff.services.record.holds import hold_place, hold_release
from staff.services.record.letters import immunocompromised_set, letter_add
from staff.services.record.people import person_update
from staff.services.record.recompute import recompute_catch_up
from staff.services.record.records import dose_record, dose_void
from staff.services.record.titres import titre_record, titre_void
from staff.services.site.site_rules import site_rules_change
from tests.documents import picture
from tests.factories import Team, give_doses, make_outing, make_person

pytestmark = pytest.mark.django_db
START = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
DAYS = st.integers(0, 60)


class History(RuleBasedStateMachine):
    """Two people, three outings, days that go by, and everything the services can do to them."""

    team: Team  # made once; every history ends by undoing itself
    people: list[Person]
    outings: list[Outing]

    def __init__(self) -> None:
        super().__init__()
        self.scope = transaction.atomic()
        self.scope.__enter__()
        self.now = START

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.scope.__exit__(None, None, None)

    @initialize()
    def begin(self) -> None:
        self.people = [self.team.person, make_person(self.team.site, self.team.officer, self.now, number="2")]
        give_doses(self.people[0], self.team.officer, self.now, 50, 43, 29)
        self.outings = [
            make_outing(self.team.site, self.team.officer, self.now, days_ahead=days)[0] for days in (0, 2, 9)
        ]

    @property
    def today(self) -> date:
        return self.team.site.local_date(self.now)

    def attempt(self, service: Any, **arguments: Any) -> None:
        """Services may refuse; a refusal must be a sentence, and whatever it undid must leave things whole."""
        try:
            service(actor=self.team.officer, now=self.now, **arguments)
        except Refused as refused:
            assert refused.message.strip()

    def person(self, which: int) -> Person:
        return Person.objects.select_related("site__rules").get(pk=self.people[which].pk)

    @rule(days=st.integers(1, 12))
    def days_go_by(self, days: int) -> None:
        self.now += timedelta(days=days)

    @rule(
        who=st.integers(0, 1),
        ago=DAYS,
        evidence=st.sampled_from(["certificate-seen", "none"]),
        date_known=st.sampled_from(["day", "day", "month"]),
    )
    def record_a_dose(self, who: int, ago: int, evidence: str, date_known: str) -> None:
        self.attempt(
            dose_record,
            person=self.person(who),
            given_on=self.today - timedelta(days=ago),
            route="IM",
            evidence=evidence,
            date_known=date_known,
            purpose=Purpose.PRE_EXPOSURE,
        )

    @rule(which=st.integers(0, 9))
    def void_a_dose(self, which: int) -> None:
        doses = list(Dose.objects.filter(voided_at__isnull=True))
        if doses:
            self.attempt(dose_void, dose=doses[which % len(doses)], reason="slip")

    @rule(who=st.integers(0, 1), ago=DAYS, value=st.sampled_from(["0.40", "0.50", "3.10"]))
    def record_a_titre(self, who: int, ago: int, value: str) -> None:
        self.attempt(
            titre_record,
            person=self.person(who),
            taken_on=self.today - timedelta(days=ago),
            iu_per_ml=Decimal(value),
        )

    @rule(which=st.integers(0, 9))
    def void_a_titre(self, which: int) -> None:
        titres = list(Titre.objects.filter(voided_at__isnull=True))
        if titres:
            self.attempt(titre_void, titre=titres[which % len(titres)], reason="slip")

    @rule(who=st.integers(0, 1), flag=st.booleans())
    def immunocompromised(self, who: int, flag: bool) -> None:
        self.attempt(immunocompromised_set, person=self.person(who), immunocompromised=flag, reason="told")

    @rule(who=st.integers(0, 1), ago=DAYS, lasts=st.integers(0, 60))
    def send_a_letter(self, who: int, ago: int, lasts: int) -> None:
        signed_on = self.today - timedelta(days=ago)
        self.attempt(
            letter_add,
            person=self.person(who),
            clinician="Test Clinician",
            signed_on=signed_on,
            valid_until=signed_on + timedelta(days=lasts),
            content=picture(f"{who} {ago} {lasts}"),
        )

    @rule(who=st.integers(0, 1), nr=st.integers(0, 99))
    def send_a_certificate(self, who: int, nr: int) -> None:
        self.attempt(certificate_add, person=self.person(who), kind="certificate", content=picture(str(nr)))

    @rule(which=st.integers(0, 9))
    def check_a_document(self, which: int) -> None:
        rows = list(Certificate.objects.filter(verified_at__isnull=True))
        if rows:
            row = rows[which % len(rows)]
            doses = list(doses_without_document(row.person, self.team.liaison))
            certificate_verify(actor=self.team.liaison, certificate=row, doses=doses, now=self.now)

    @rule(who=st.integers(0, 1), ago=DAYS)
    def brief(self, who: int, ago: int) -> None:
        self.attempt(briefing_record, person=self.person(who), held_on=self.today - timedelta(days=ago))

    @rule(who=st.integers(0, 1), ahead=st.integers(-5, 10), source=st.sampled_from(["officer", "case-1"]))
    def hold(self, who: int, ahead: int, source: str) -> None:
        starts = self.today + timedelta(days=ahead)
        self.attempt(hold_place, person=self.person(who), starts_on=starts, reason="ill", source=source)

    @rule(after=st.integers(-3, 5))
    def release(self, after: int) -> None:
        held = Hold.objects.filter(released_at__isnull=True).first()
        if held:
            self.attempt(
                hold_release, hold=held, last_day=self.today + timedelta(days=after), note="well again"
            )

    @rule(who=st.integers(0, 1), until=st.one_of(st.none(), st.integers(-2, 20)))
    def leave_or_stay(self, who: int, until: int | None) -> None:
        last = None if until is None else self.today + timedelta(days=until)
        self.attempt(person_update, person=self.person(who), active_until=last)

    @rule(
        changes=st.fixed_dictionaries(
            {},
            optional={
                "doses_required": st.integers(1, 4),
                "settling_days": st.integers(0, 30),
                "recheck_months": st.integers(0, 2),
                "recheck_once": st.booleans(),
                "lapse_blocks": st.booleans(),
                "mixed_routes": st.booleans(),
                "stopped_course_doses": st.sampled_from([0, 2]),
                "briefing_months": st.one_of(st.none(), st.integers(0, 2)),
            },
        )
    )
    def change_rules(self, changes: dict[str, Any]) -> None:
        rules = self.person(0).site.rules
        self.attempt(site_rules_change, rules=rules, changes=changes, reason="letter 2")

    @rule()
    def the_worker_catches_up(self) -> None:
        recompute_catch_up(now=self.now)
        assert not ClearancePending.objects.exists()

    @rule(who=st.integers(0, 1), where=st.integers(0, 2))
    def assign(self, who: int, where: int) -> None:
        person, outing = self.person(who), Outing.objects.get(pk=self.outings[where].pk)
        ready = readiness_of(person, outing.date).clear
        arguments: dict[str, Any] = {"outing": outing, "crew": outing.crews.get(), "person": person}
        try:
            roster_assign(actor=self.team.officer, now=self.now, role="catcher", **arguments)
        except NotCleared as refused:
            assert not ready and refused.reasons
        except Refused as refused:
            assert refused.code in {"outing-over", "outing-cancelled", "already-assigned"}
        else:
            assert ready

    @rule(where=st.integers(0, 2), ahead=st.integers(0, 20))
    def move(self, where: int, ahead: int) -> None:
        outing = Outing.objects.get(pk=self.outings[where].pk)
        self.attempt(outing_move, outing=outing, date=self.today + timedelta(days=ahead))

    @rule(where=st.integers(0, 2))
    def cancel(self, where: int) -> None:
        self.attempt(outing_cancel, outing=Outing.objects.get(pk=self.outings[where].pk), reason="storm")
        if self.outings[where].date >= self.today:
            self.outings[where] = make_outing(self.team.site, self.team.officer, self.now)[0]

    @rule()
    def withdraw(self) -> None:
        row = Assignment.objects.select_related("outing__site", "crew").first()
        if row:
            self.attempt(roster_withdraw, assignment=row, reason="asked to")

    @invariant()
    def what_is_stored_is_what_the_record_gives(self) -> None:
        if not hasattr(self, "people"):
            return
        keys = [person.pk for person in self.people]
        people = Person.objects.filter(pk__in=keys, clearance_pending__isnull=True)
        for person in people.select_related("site__rules"):
            stored = [row.as_interval() for row in person.clearances.filter(superseded_on__isnull=True)]
            assert len(stored) == len(set(stored))
            assert set(stored) == set(clearance_of(person).intervals)
            judged = RegimenBook.for_sites([person.site]).judge_doses(person)
            assert {row.as_judgement() for row in person.dose_standings.all()} == set(judged)

    @invariant()
    def nobody_is_on_a_coming_outing_without_cover(self) -> None:
        if not hasattr(self, "people"):
            return
        for row in Assignment.objects.filter(outing__date__gte=self.today).select_related(
            "outing", "clearance", "person__site__rules"
        ):
            assert covers(clearance_of(row.person).intervals, row.outing.date)
            assert row.clearance.superseded_on is None and row.clearance.person_id == row.person_id
            assert covers([row.clearance.as_interval()], row.outing.date)
            assert row.outing.cancelled_at is None

    @invariant()
    def every_withdrawal_says_why(self) -> None:
        assert not Withdrawal.objects.filter(reason="").exists()


def test_stored_clearance_follows_the_record_through_any_history(team: Team) -> None:
    History.team = team
    run_state_machine_as_test(
        History,
        settings=settings(
            max_examples=10,
            stateful_step_count=20,
            deadline=None,
            database=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
