"""Sites, accounts, people and their records. Every name and number here is made up."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from safety.demo.accounts import PASSWORD
from safety.demo.telephones import telephone
from safety.models import Clinic, Stock
from staff.models import (
    Dose,
    Evidence,
    Person,
    Purpose,
    Regimen,
    Site,
    SiteHoliday,
    SiteRole,
    SiteRules,
    User,
)
from staff.services.record.briefings import briefing_record
from staff.services.record.holds import hold_place
from staff.services.record.people import person_create
from staff.services.record.records import dose_record, dose_void
from staff.services.record.titres import titre_record
from staff.services.regimen.approvals import regimen_approve
from staff.services.regimen.regimens import regimens_load

REGIMENS = Path(__file__).resolve().parents[2] / "fixtures" / "regimens.json"
COURSE_REGIMEN = "pep-im-0-3-7-14-28"
IMMUNISED_REGIMEN = "pep-immunised-im-0-3"

# Put together from syllables, so that they are nobody's.
GIVEN = ("Tavori", "Ilsame", "Bremuno", "Nerundo", "Odivel", "Keshamu", "Marolu", "Zurebi", "Pellumo", "Anweni",
         "Dorimel", "Sefalo", "Lumeti", "Ravuno", "Tolumi", "Yarebo", "Emekalo", "Haniru", "Jossemu", "Kitavo")  # fmt: skip
FAMILY = ("Morrenda", "Quendoru", "Aldoume", "Sarrikel", "Vennudo", "Obarinu", "Teskomi", "Lumarro", "Hadrelu",
          "Piranesk", "Kossuri", "Ungarel", "Elwendi", "Dapomar", "Riskelo", "Faronulu", "Njallomi")  # fmt: skip
# The nearer one with office hours; the farther one, round the clock.
CLINICS = ("Cobbelow Clinic", "Ostrigate Hospital")


@dataclass(frozen=True)
class History:
    """Days before today on which things happened, for people of one state."""

    doses: tuple[int, ...] = ()
    void: int | None = None
    titre: tuple[int, str] | None = None
    course: tuple[int, ...] = ()
    briefing: int | None = 40
    evidence: str = Evidence.CERTIFICATE
    held: str = ""
    left: int | None = None


# Every state that matters to a roster, in the order people get them; the rest are complete.
HISTORIES: dict[str, History] = {
    "complete": History((400, 393, 379)),
    "complete lately": History((70, 63, 45)),
    "one dose short": History((25, 18)),
    "one dose only": History((9,)),
    "no dose yet": History(),
    "second dose a day too early": History((40, 34, 19)),
    "third dose voided": History((60, 53, 39), void=39),
    "documents not seen": History((90, 83, 69), evidence=Evidence.NONE),
    "re-check lapsed": History((1200, 1193, 1179)),
    "titre low": History((1000, 993, 979), titre=(20, "0.31")),
    "titre adequate": History((1000, 993, 979), titre=(120, "0.50")),
    "full course earlier": History(course=(300, 297, 293, 286, 272)),
    "briefing lapsed": History((500, 493, 479), briefing=500),
    "held": History((350, 343, 329), held="waits for the clinician's answer after a fall"),
    "left the team": History((450, 443, 429), left=30),
    "complete today": History((21, 14, 0)),
}


@dataclass(frozen=True)
class SitePlan:
    code: str
    name: str
    zone: str
    authority: str
    people: int
    # Round figures somewhere in the site's time zone: nobody lives there that we know of.
    middle: tuple[float, float]
    clinic_language: str
    rules: dict[str, Any]


SITES = (
    SitePlan("lantern-valley", "Lantern Valley", "Africa/Nairobi", "Lantern Valley Health Office (invented)", 26, (-1.0, 37.5), "fr",
             {"recheck_months": 24, "briefing_months": 12}),
    SitePlan("quennamoor-heights", "Quennamoor Heights", "Asia/Kathmandu", "Quennamoor Heights Health Office (invented)", 18, (27.5, 85.5), "",
             {"recheck_months": 24, "briefing_months": 24, "settling_days": 7, "observation_days": 14}),
    SitePlan("tessamarsh-bay", "Tessamarsh Bay", "America/Lima", "Tessamarsh Bay Health Board (invented)", 16, (-12.0, -76.5), "es",
             {"recheck_months": 36, "briefing_months": 12, "late_rule": "keep-calendar"}),
)  # fmt: skip


def at(site: Site, day: date, hour: int = 12) -> datetime:
    """The instant at which clocks at the site show that hour."""
    return datetime.combine(day, time(hour), tzinfo=site.zone).astimezone(UTC)


def make_user(username: str, display: str, **more: Any) -> User:
    first, _space, last = display.partition(" ")
    return User.objects.create_user(
        username=username,
        email=f"{username}@demo.example",
        password=PASSWORD,
        first_name=first,
        last_name=last,
        **more,
    )


def make_sites(officer: User, stranger: User, now: datetime) -> list[Site]:
    """The three sites with rules, clinics and the regimens their invented authorities approved."""
    regimens_load(path=REGIMENS, now=now)
    sites = []
    for number, plan in enumerate(SITES):
        site = Site.objects.create(
            code=plan.code,
            name=plan.name,
            time_zone=plan.zone,
            authority=plan.authority,
            emergency_number=telephone(number),
        )
        SiteRules.objects.create(site=site, **plan.rules)
        owner = stranger if plan is SITES[-1] else officer
        SiteRole.objects.create(user=owner, site=site, role=SiteRole.Role.OFFICER)
        _approve(site, owner, now)
        _make_clinics(site, plan, now)
        sites.append(site)
    return sites


def _approve(site: Site, by: User, now: datetime) -> None:
    for code in ("prep-im-0-7-21", "prep-id-0-7-21", COURSE_REGIMEN, IMMUNISED_REGIMEN):
        regimen_approve(
            actor=by,
            regimen=Regimen.objects.get(code=code, version=1),
            site=site,
            authority=site.authority,
            approved_on=site.local_date(now) - timedelta(days=1500),
            document="Circular 4 (invented)",
            now=now,
        )


def _make_clinics(site: Site, plan: SitePlan, now: datetime) -> None:
    """One nearby with office hours, one farther away that is open round the clock and has immunoglobulin."""
    today = site.local_date(now)
    latitude, longitude = plan.middle
    SiteHoliday.objects.create(site=site, date=today + timedelta(days=9), name="Harvest Day (invented)")
    for number, (name, vaccine, immunoglobulin, confirmed) in enumerate(
        ((CLINICS[0], Stock.YES, Stock.NO, 3), (CLINICS[1], Stock.YES, Stock.YES, 12))
    ):
        Clinic.objects.create(
            site=site,
            name=name,
            address=f"{number + 3} {name.split()[0]} Street",
            phone=telephone(100 + 10 * SITES.index(plan) + number),
            hours="Mo-Fr 08:00-17:00; Sa 08:00-12:00; PH off" if number == 0 else "24/7",
            latitude=latitude + 0.03 + 0.12 * number,
            longitude=longitude + 0.02,
            language=plan.clinic_language if number else "",
            vaccine=vaccine,
            immunoglobulin=immunoglobulin,
            confirmed_on=today - timedelta(days=confirmed),
        )


def make_people(site: Site, by: User, now: datetime) -> list[Person]:
    """Everybody of a site: one for each history, the rest complete."""
    plan = next(plan for plan in SITES if plan.code == site.code)
    states = list(HISTORIES) + ["complete", "complete lately"] * plan.people
    return [
        _make_person(site, by, now, number, plan, HISTORIES[state])
        for number, state in enumerate(states[: plan.people], 1)
    ]


def _make_person(
    site: Site, by: User, now: datetime, number: int, plan: SitePlan, history: History
) -> Person:
    offset = SITES.index(plan) * 7
    name = f"{GIVEN[(number * 3 + offset) % len(GIVEN)]} {FAMILY[(number * 5 + offset) % len(FAMILY)]}"
    today = site.local_date(now)
    roles = (
        ("catcher", "driver"),
        ("vaccinator", "recorder"),
        ("catcher", "vaccinator"),
        ("recorder", "lead"),
    )
    person = person_create(
        actor=by,
        site=site,
        number=f"{site.code[:2].upper()}{number:03}",
        name=name,
        now=now,
        crew_roles=roles[number % len(roles)],
        email=f"{site.code}.{number}@demo.example",
        phone=telephone(300 + 100 * SITES.index(plan) + number),
        active_until=today - timedelta(days=history.left) if history.left else None,
    )
    write_history(person, by, history, now)
    return person


def write_history(person: Person, by: User, history: History, now: datetime) -> None:
    """Record a history as if each entry had been made on its day."""
    today = person.site.local_date(now)
    for days in history.doses:
        dose = _dose(person, by, today - timedelta(days=days), now, evidence=history.evidence)
        if days == history.void:
            dose_void(actor=by, dose=dose, reason="written on the wrong person", now=now)
    regimen = Regimen.objects.get(code=COURSE_REGIMEN, version=1)
    for days in history.course:
        _dose(person, by, today - timedelta(days=days), now, purpose=Purpose.POST_EXPOSURE, regimen=regimen)
    if history.titre:
        days, value = history.titre
        titre_record(
            actor=by, person=person, taken_on=today - timedelta(days=days), iu_per_ml=Decimal(value), now=now
        )
    if history.briefing is not None:
        briefing_record(actor=by, person=person, held_on=today - timedelta(days=history.briefing), now=now)
    if history.held:
        hold_place(actor=by, person=person, starts_on=today - timedelta(days=2), reason=history.held, now=now)


def _dose(person: Person, by: User, given_on: date, now: datetime, **more: Any) -> Dose:
    return dose_record(
        actor=by,
        person=person,
        given_on=given_on,
        now=min(now, at(person.site, given_on)),
        route="IM",
        product="Cell-culture vaccine (demo)",
        batch=f"D{given_on:%y%m}",
        place=CLINICS[0],
        **more,
    )
