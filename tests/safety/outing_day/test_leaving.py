"""A crew leaves with everything, or without something and a reason, on its outing's date and by its own lead."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction

from safety.errors import Conflict, Invalid, NotAllowed
from safety.models import Clinic, Departure
from safety.selectors.crew_day.outing_day import absent_of, without_words
from safety.services.crew_day.crew_roll import Absent, Roll
from safety.services.crew_day.departure_voids import departure_void
from staff.models import AuditEntry, CrewShape, KitTick, Outing, Withdrawal
from staff.selectors.outing.kit import kit_missing, outing_kit
from staff.services.outing.outings import outing_cancel
from staff.services.outing.roster import roster_withdraw
from tests.factories import Team, make_site, make_user
from tests.safety.outing_day.scenes import Day, make_day

pytestmark = pytest.mark.django_db


def words(departure: Departure) -> list[str]:
    return without_words(departure, absent_of(departure))


def test_a_whole_crew_with_everything_leaves_and_the_record_says_so(day: Day) -> None:
    left = day.leave()
    assert left.crew_whole and words(left) == [] and left.missing_reason == ""
    assert [(row.person.name, row.present) for row in left.people.all()] == [
        (f"Test {role}", True) for role in ("Lead", "Catcher", "Vaccinator", "Recorder")
    ]
    entry = AuditEntry.objects.get(action="departure.recorded")
    assert (entry.actor, entry.target) == (day.head, f"crew:{day.crew.pk}")


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        # Worn on the way to work and in the field: common practice, no source.
        ({"helmets": False}, "helmets"),
        ({"clothing": False}, "long trousers and closed shoes"),
        ({"kit": False}, "the whole kit"),
        ({"briefing": False}, "the briefing of the day"),
        ({"clinic_open": False}, "a clinic known to be open"),
        ({"clinic": None, "clinic_open": False}, "a clinic known to be open"),
        ({"vaccine": "no"}, "a clinic known to have vaccine"),
        ({"vaccine": "unknown"}, "a clinic known to have vaccine"),
        ({"immunoglobulin": "unknown"}, "a clinic known to have immunoglobulin"),
    ],
)
def test_going_without_something_needs_a_reason_and_keeps_it(
    day: Day, changes: dict[str, object], word: str
) -> None:
    with pytest.raises(Invalid, match=word) as refused:
        day.leave(**changes, missing_reason="  ")
    assert list(refused.value.fields) == ["missing_reason"]
    assert not Departure.everything.exists()
    left = day.leave(**changes, missing_reason="the officer said so")
    assert words(left) == [word] and left.missing_reason == "the officer said so"


def test_a_reason_for_nothing_is_not_kept(day: Day) -> None:
    assert day.leave(missing_reason="just in case").missing_reason == ""


def test_an_absent_person_without_a_replacement_needs_the_reason_and_comes_off_the_roster(day: Day) -> None:
    gone = day.people["lead"]
    roll = Roll(day.here(gone), (Absent(gone.pk, "slept in"),))
    with pytest.raises(Invalid, match="Test Lead"):
        day.leave(by=day.team.lead, roll=roll)
    assert not Withdrawal.objects.exists()
    left = day.leave(by=day.team.lead, roll=roll, missing_reason="the catcher leads today")
    assert words(left) == ["Test Lead"] and not left.crew_whole
    assert Withdrawal.objects.get().reason == "slept in"
    assert not day.crew.assignments.filter(person=gone).exists()


def test_a_crew_role_its_shape_asks_for_is_missed(day: Day) -> None:
    for role, needed in (("vaccinator", 2), ("catcher", 1)):
        CrewShape.objects.create(site=day.team.site, method="house-to-house", role=role, needed=needed)
    with pytest.raises(Invalid, match="without vaccinator"):
        day.leave()
    assert words(day.leave(missing_reason="one is enough today")) == ["vaccinator"]


def test_the_roll_answers_for_everybody_on_the_roster_and_for_nobody_else(day: Day) -> None:
    somebody = day.people["catcher"]
    for roll in (
        Roll(day.here(somebody)),
        Roll(day.here() | {day.spare.pk}),
        Roll(day.here(), (Absent(somebody.pk, "ill"),)),
    ):
        with pytest.raises(Conflict) as refused:
            day.leave(roll=roll)
        assert refused.value.code == "crew-changed"
    seen = day.here()
    assignment = day.crew.assignments.get(person=somebody)
    roster_withdraw(actor=day.team.officer, assignment=assignment, reason="swap", now=day.now)
    with pytest.raises(Conflict, match="changed meanwhile"):
        day.leave(roll=Roll(seen))


def test_a_crew_of_nobody_does_not_leave(day: Day) -> None:
    roll = Roll(frozenset(), tuple(Absent(pk, "strike") for pk in day.here()))
    with pytest.raises(Conflict) as refused:
        day.leave(roll=roll, missing_reason="strike")
    assert refused.value.code == "nobody-here" and not Withdrawal.objects.exists()


def test_a_clinic_of_another_site_or_out_of_use_is_refused(day: Day) -> None:
    other = Clinic.objects.create(site=make_site("far"), name="Far", phone="1")
    shut = Clinic.objects.create(site=day.team.site, name="Shut", phone="1", active=False)
    for clinic in (other, shut, None):
        with pytest.raises(Invalid) as refused:
            day.leave(clinic=clinic)
        assert list(refused.value.fields) == ["clinic"]


def test_what_the_clinic_said_goes_to_the_clinic_list_and_silence_does_not(day: Day) -> None:
    clinic = day.team.clinic
    day.leave(vaccine="unknown", immunoglobulin="unknown", missing_reason="it hung up")
    clinic.refresh_from_db()
    assert clinic.confirmed_on is None
    departure_void(actor=day.head, departure=Departure.objects.get(), reason="rang again", now=day.now)
    day.leave(vaccine="yes", immunoglobulin="no", missing_reason="next delivery on Friday")
    clinic.refresh_from_db()
    assert (clinic.vaccine, clinic.immunoglobulin, clinic.active) == ("yes", "no", True)
    assert (clinic.confirmed_on, clinic.confirmed_by) == (day.outing.date, day.head)


@pytest.mark.parametrize(
    ("days", "code"),
    [(-1, "outing-over"), (0, ""), (1, "outing-ahead")],
    ids=["day after", "day", "day before"],
)
def test_a_crew_leaves_on_its_outings_date_alone(team: Team, now: datetime, days: int, code: str) -> None:
    day = make_day(team, now, days_ahead=1)
    at = now + timedelta(days=1 - days)
    if not code:
        assert day.leave(now=at).date == day.outing.date
        return
    with pytest.raises(Conflict) as refused:
        day.leave(now=at)
    assert refused.value.code == code and not Departure.everything.exists()


def test_the_date_begins_and_ends_at_the_sites_midnight(team: Team, now: datetime) -> None:
    """Nairobi is three hours ahead of UTC (tz database): 3 March begins there at 21:00 UTC of the 2nd."""
    day = make_day(team, now, days_ahead=1)
    begins, ends = datetime(2026, 3, 2, 21, tzinfo=UTC), datetime(2026, 3, 3, 21, tzinfo=UTC)
    with pytest.raises(Conflict, match="on the day itself"):
        day.leave(now=begins - timedelta(seconds=1))
    left = day.leave(now=begins)
    departure_void(actor=day.head, departure=left, reason="wrong crew", now=ends - timedelta(seconds=1))
    day.leave(now=ends - timedelta(seconds=1))
    departure_void(actor=team.officer, departure=Departure.objects.get(), reason="again", now=ends)
    with pytest.raises(Conflict, match="over"):
        day.leave(now=ends)


def test_a_cancelled_outing_is_left_for_by_nobody(day: Day) -> None:
    outing_cancel(actor=day.team.officer, outing=day.outing, reason="rain", now=day.now)
    with pytest.raises(Conflict) as refused:
        day.leave(by=day.team.officer, roll=Roll(frozenset()))
    assert refused.value.code == "outing-cancelled"


def test_the_officer_a_crew_lead_of_the_site_and_the_lead_on_the_crew_record_it_and_nobody_else(
    day: Day,
) -> None:
    team = day.team
    catcher = day.people["catcher"]
    catcher.user = make_user("catcher")
    catcher.save(update_fields=["user"])
    for actor in (catcher.user, team.member, team.liaison, team.stranger):
        with pytest.raises(NotAllowed):
            day.leave(by=actor)
    for actor in (team.officer, team.lead, day.head):
        left = day.leave(by=actor)
        departure_void(actor=actor, departure=left, reason="once more", now=day.now)


def test_the_lead_of_another_crew_of_the_same_outing_does_not(day: Day) -> None:
    other = day.outing.crews.create(name="Crew 2")
    day.outing.assignments.filter(person=day.people["lead"]).update(crew=other)
    with pytest.raises(NotAllowed):
        day.leave(roll=Roll(day.here(day.people["lead"])))


def test_a_second_departure_is_refused_until_the_first_is_voided(day: Day) -> None:
    first = day.leave()
    with pytest.raises(Conflict) as refused:
        day.leave(by=day.team.officer)
    assert refused.value.code == "left-already"
    departure_void(actor=day.head, departure=first, reason="wrong crew", now=day.now)
    second = day.leave()
    assert list(Departure.objects.all()) == [second]
    assert Departure.everything.get(pk=first.pk).void_reason == "wrong crew"
    with pytest.raises(Conflict, match="voided already"):
        departure_void(actor=day.head, departure=first, reason="again", now=day.now)


def test_a_void_says_why_and_after_the_day_only_an_officer_makes_one(day: Day) -> None:
    left = day.leave()
    with pytest.raises(Invalid):
        departure_void(actor=day.head, departure=left, reason=" ", now=day.now)
    later = day.now + timedelta(days=1)
    for actor in (day.head, day.team.lead, day.team.stranger, day.team.liaison):
        with pytest.raises(NotAllowed):
            departure_void(actor=actor, departure=left, reason="x", now=later)
    departure_void(actor=day.team.officer, departure=left, reason="x", now=later)
    assert not Departure.objects.exists()


def test_the_database_refuses_two_departures_and_a_silent_lack(day: Day) -> None:
    left = day.leave()
    for changes in ({"pk": None}, {"helmets": False}, {"clinic": None}):
        row = Departure.objects.get(pk=left.pk)
        for name, value in changes.items():
            setattr(row, name, value)
        with pytest.raises(IntegrityError), transaction.atomic():
            row.save()
    assert Outing.objects.count() == 1


def test_a_list_ticked_on_the_phone_must_be_ticked_whole(day: Day) -> None:
    items = list(kit_missing(day.crew))
    first = outing_kit(day.crew.outing)[0].rows[0].line.item
    KitTick.objects.create(crew=day.crew, item=first.value, there=True, ticked_by=day.head, ticked_at=day.now)
    with pytest.raises(Invalid, match=items[-1]) as refused:
        day.leave()
    assert list(refused.value.fields) == ["kit"]
    assert not Departure.everything.exists()
    left = day.leave(kit=False, missing_reason="the rest is in the other car")
    assert words(left) == ["the whole kit"]
