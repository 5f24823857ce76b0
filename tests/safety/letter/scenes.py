"""Cases for letters, from a plain one to one that holds too much of everything."""

from __future__ import annotations

from datetime import datetime, timedelta

from safety.letter.content import letter_of
from safety.letter.facts import letter_facts
from safety.letter.pdf import letter_pdf
from safety.letter.shape import Letter, Limits
from safety.models import Incident, WashSpell, Wound
from safety.rules.case.category import Answer
from staff.services.record.records import dose_record
from tests.factories import Team, give_doses
from tests.safety.pages.scenes import make_case

LONG_NAME = "Test " + "Verylongfamilyname-" * 6


def plain_case(team: Team, now: datetime) -> Incident:
    """A bite of the hand by a roaming dog, washed for 6 minutes, after a complete series."""
    give_doses(team.person, team.officer, now, 60, 53, 39)
    incident = make_case(
        team, animal="dog-roaming", task="collaring", causes=("bare-hands",), washed_minutes=6, soap="yes"
    )
    Incident.objects.filter(pk=incident.pk).update(
        latitude=-1.2921,
        longitude=36.8219,
        accuracy_m=12.4,
        antiseptic="yes",
        others_hurt="no",
        animal_facts={
            "collar": "no",
            "signs": ["strange", "drooling"],
            "can_be_watched": "no",
            "owner_known": "no",
        },
    )
    WashSpell.objects.filter(incident=incident).update(running_water=Answer.YES)
    return Incident.objects.get(pk=incident.pk)


def crowded_case(team: Team, now: datetime) -> Incident:
    """A long name, 40 doses, 12 wounds and a story as long as the report takes."""
    incident = plain_case(team, now)
    team.person.name = LONG_NAME[:120]
    team.person.save()
    story = ("The collar slipped and the dog turned; " * 60)[:2000]
    Incident.objects.filter(pk=incident.pk).update(narrative=story)
    Wound.objects.bulk_create(
        Wound(incident=incident, contact="bitten", body_site="head-face-neck", broke_skin="yes", deep="yes")
        for _number in range(11)
    )
    for days in range(400, 400 + 37 * 30, 30):
        dose_record(
            actor=team.officer,
            person=team.person,
            given_on=team.site.local_date(now) - timedelta(days=days),
            route="IM",
            product="Cell-culture vaccine of the test",
            batch="B" * 40,
            now=now,
        )
    return Incident.objects.get(pk=incident.pk)


def written(incident: Incident, team: Team, now: datetime, language: str = "en") -> Letter:
    return letter_of(letter_facts(incident, team.clinic, now), language, Limits())


def printed(incident: Incident, team: Team, now: datetime, language: str = "en") -> bytes:
    facts = letter_facts(incident, team.clinic, now)
    return letter_pdf(lambda limits: letter_of(facts, language, limits), now=now + timedelta(0))
