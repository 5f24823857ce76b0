"""Ticking a crew's kit: who may, the later word stands, and what the list says is missing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from staff.ground.errors import Conflict, Invalid, NotAllowed
from staff.models import AuditEntry, Crew, KitTick, Outing, User
from staff.rules.outing.kit import Item
from staff.selectors.outing.kit import campaign_kit, kit_complete, kit_missing, outing_kit
from staff.services.outing.kit import kit_tick
from staff.services.outing.outings import outing_cancel, outing_create
from staff.services.outing.roster import roster_assign
from tests.factories import Team, give_doses, make_outing, make_user
from tests.staff.planning.scenes import make_campaign

pytestmark = pytest.mark.django_db
EARLIER, LATER = timedelta(minutes=5), timedelta(minutes=9)


@dataclass
class Packing:
    """An outing planned an hour ago; `tick` says something about its soap."""

    team: Team
    outing: Outing
    crew: Crew
    now: datetime

    def tick(
        self, *, there: bool = True, by: User | None = None, at: datetime | None = None, item: str = "soap"
    ) -> KitTick:
        return kit_tick(
            actor=by or self.team.lead,
            outing=self.outing,
            crew=self.crew,
            item=item,
            there=there,
            ticked_at=at or self.now,
            now=self.now,
        )


@pytest.fixture
def packing(team: Team, now: datetime) -> Packing:
    outing, crew = make_outing(team.site, team.officer, now)
    return Packing(team, outing, crew, now + timedelta(hours=1))


def put_member_on(packing: Packing, now: datetime) -> None:
    team = packing.team
    give_doses(team.person, team.officer, now, 60, 53, 39)
    roster_assign(
        actor=team.officer,
        outing=packing.outing,
        crew=packing.crew,
        person=team.person,
        role="catcher",
        now=now,
    )


def test_what_nobody_ticked_is_missing_and_the_last_tick_makes_the_kit_complete(packing: Packing) -> None:
    assert kit_missing(packing.crew) == [
        "Sharps box",
        "Long forceps",
        "Water for washing wounds",
        "Soap",
        "Antiseptic",
        "First-aid kit",
    ]
    for item in ("sharps-box", "forceps", "water", "antiseptic", "first-aid"):
        packing.tick(item=item)
    assert (kit_missing(packing.crew), kit_complete(packing.crew)) == (["Soap"], False)
    packing.tick()
    assert kit_complete(packing.crew)
    assert outing_kit(packing.outing)[0].complete


def test_a_tick_taken_back_is_missing_again_and_both_words_are_in_the_audit_trail(packing: Packing) -> None:
    packing.tick(at=packing.now - EARLIER)
    packing.tick(there=False)
    assert "Soap" in kit_missing(packing.crew)
    told = AuditEntry.objects.filter(action="kit.ticked", target=f"outing:{packing.outing.pk}")
    assert [row.detail["there"] for row in told.order_by("pk")] == [True, False]


@pytest.mark.parametrize("behind", [timedelta(), EARLIER])
def test_a_word_that_is_equal_or_older_is_kept_out_and_the_answer_says_what_stands(
    packing: Packing, behind: timedelta
) -> None:
    stands = packing.tick(there=False)
    answer = packing.tick(at=packing.now - behind, by=packing.team.officer)
    assert (answer.pk, answer.there, answer.ticked_by) == (stands.pk, False, packing.team.lead)
    assert AuditEntry.objects.filter(action="kit.ticked").count() == 1


def test_the_order_in_which_words_arrive_changes_nothing(packing: Packing) -> None:
    words = [(packing.now - LATER, True), (packing.now - EARLIER, False), (packing.now, True)]
    for at, there in [words[2], words[0], words[1]]:
        packing.tick(at=at, there=there)
    tick = KitTick.objects.get()
    assert (tick.there, tick.ticked_at) == (True, packing.now)


def test_a_clock_that_runs_ahead_counts_as_the_moment_the_word_arrived(packing: Packing) -> None:
    assert packing.tick(at=packing.now + timedelta(days=400)).ticked_at == packing.now


def test_a_clock_that_was_reset_is_told_so(packing: Packing) -> None:
    with pytest.raises(Invalid, match="set the clock"):
        packing.tick(at=datetime(1970, 1, 1, tzinfo=UTC))
    assert not KitTick.objects.exists()


def test_officer_lead_and_whoever_is_on_the_outing_tick_and_nobody_else(
    packing: Packing, now: datetime
) -> None:
    team = packing.team
    for user in (team.member, team.liaison, team.stranger, make_user("passer-by")):
        with pytest.raises(NotAllowed):
            packing.tick(by=user)
    put_member_on(packing, now)
    for user in (team.officer, team.lead, team.member):
        packing.now += EARLIER
        assert packing.tick(by=user).ticked_by == user


@pytest.mark.parametrize("item", ["", "net", "vaccine", "SOAP"])
def test_what_is_not_on_the_crews_list_is_refused_by_name(packing: Packing, item: str) -> None:
    """No dogs are expected, so there is no vaccine on the list."""
    with pytest.raises(Invalid) as refused:
        packing.tick(item=item)
    assert "sharps-box" in refused.value.fields["item"]


def test_a_crew_of_another_outing_is_refused(packing: Packing, now: datetime) -> None:
    _other, packing.crew = make_outing(packing.team.site, packing.team.officer, now, 4)
    with pytest.raises(Invalid, match="another outing"):
        packing.tick()


def test_a_cancelled_outing_has_no_kit_to_tick(packing: Packing) -> None:
    outing_cancel(actor=packing.team.officer, outing=packing.outing, reason="rain", now=packing.now)
    with pytest.raises(Conflict, match="cancelled"):
        packing.tick()


def test_what_was_ticked_on_the_day_is_taken_later_and_what_is_ticked_later_is_not(packing: Packing) -> None:
    """The outing is on 5 March; its day ends at 21:00 UTC in Nairobi."""
    packing.now = datetime(2026, 3, 9, 6, tzinfo=UTC)
    packing.tick(at=datetime(2026, 3, 5, 20, 59, tzinfo=UTC))
    with pytest.raises(Conflict, match="is over"):
        packing.tick(at=datetime(2026, 3, 5, 21, 0, tzinfo=UTC), there=False)
    assert KitTick.objects.get().there


def test_each_crew_carries_its_share_rounded_up_by_the_sites_figures(team: Team, now: datetime) -> None:
    rules = team.site.rules
    rules.spare_percent, rules.wash_minutes, rules.wash_flow_ml = 20, 10, 1500
    rules.save()
    outing = outing_create(
        actor=team.officer,
        site_id=team.site.pk,
        date=team.site.local_date(now),
        area="Salt flats",
        method="fixed-post",
        dogs_expected=121,
        puppies_expected=20,
        riders=3,
        crews=2,
        now=now,
    )
    kits = outing_kit(outing)
    assert [kit.crew.name for kit in kits] == ["Crew 1", "Crew 2"]
    # 101 adults and 20 puppies are 51 and 10 for each crew: 61 dogs, 73.2 doses, 61.2 collars.
    found = {row.line.item: row.line.count for row in kits[0].rows}
    assert (found[Item.VACCINE], found[Item.COLLARS], found[Item.PUPPY_MARKS]) == (74, 62, 12)
    assert (found[Item.SYRINGES], found[Item.WATER], found[Item.HELMETS]) == (15, 30, 2)


def test_the_list_of_the_readers_own_crew_comes_first(packing: Packing, now: datetime) -> None:
    first, packing.crew = packing.crew, Crew.objects.create(outing=packing.outing, name="Crew 2")
    put_member_on(packing, now)
    listed = outing_kit(packing.outing, reader=packing.team.member)
    assert [kit.crew for kit in listed] == [packing.crew, first]
    assert [kit.crew for kit in outing_kit(packing.outing, reader=packing.team.lead)] == [first, packing.crew]


def test_a_campaigns_kit_is_the_sum_of_its_crews_lists_without_what_was_cancelled(
    team: Team, now: datetime
) -> None:
    campaign = make_campaign(team, now, days_ahead=10, people=[team.person])
    plans = ((0, "Mill", 100, 1), (0, "Quay", 50, 1), (1, "Mill", 20, 2), (2, "Mill", 999, 1))
    for days, area, dogs, crews in plans:
        outing = outing_create(
            actor=team.officer,
            site_id=team.site.pk,
            date=campaign.starts_on + timedelta(days=days),
            area=area,
            method="fixed-post",
            dogs_expected=dogs,
            crews=crews,
            now=now,
        )
        outing.campaign = campaign
        outing.save()
    outing_cancel(actor=team.officer, outing=outing, reason="rain", now=now)
    with CaptureQueriesContext(connection) as asked:
        kit = campaign_kit(campaign)
    assert len(asked) == 2
    totals = {total.line.item: (total.line.count, total.busiest.count) for total in kit.totals}
    # 110 and 55 doses on the first day, 11 for each crew on the second.
    assert totals[Item.VACCINE] == (187, 165)
    assert totals[Item.FORCEPS] == (8, 4)
    assert [(day.areas, day.crews) for day in kit.days] == [("Mill, Quay", 2), ("Mill", 2)]
    assert [dict(counts)["Vaccine"] for _day, counts in kit.table] == ["165 doses", "22 doses"]


def test_a_campaign_without_outings_needs_nothing(team: Team, now: datetime) -> None:
    kit = campaign_kit(make_campaign(team, now, days_ahead=10, people=[team.person]))
    assert (kit.totals, kit.days) == ((), ())
