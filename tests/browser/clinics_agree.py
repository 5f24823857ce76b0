"""Random tables of clinics, people, places and instants: the phone's script and the service give the same answer.

    python -m tests.browser.clinics_agree --tables 10000 [--seed 1]

starts the demo and Chromium, asks the page's own modules, compares clinic and words with the service's, and prints
how many tables there were of what. Its short form is tests/browser/test_phone_clinics.py.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
if __name__ == "__main__":
    django.setup()

from playwright.sync_api import Page, sync_playwright  # noqa: E402 - settings come first when it is run by itself

from safety.models import Stock  # noqa: E402
from safety.pages.clinic.clinic_choice import (  # noqa: E402
    asked_words,
    distance_words,
    door_words,
    none_words,
    stock_words,
    why_words,
)
from safety.places.hours import open_spans  # noqa: E402
from safety.rules.case.category import Answer, ContactFact, ContactKind, suggest_category  # noqa: E402
from safety.rules.case.exposed_person import Known, immunoglobulin_may_be_asked  # noqa: E402
from safety.rules.clinic.clinic_choice import (  # noqa: E402
    Choice,
    ClinicFact,
    ClinicRules,
    InStock,
    Position,
    Span,
    choose_clinic,
    metres_between,
)
from safety.rules.notices.local_time import offsets_between  # noqa: E402
from safety.selectors.case.cases import exposure_possible  # noqa: E402
from tests.browser.conftest import QUIET  # noqa: E402
from tests.launching import Launch, free_port  # noqa: E402
from tests.needs import chromium_path  # noqa: E402

AT_ONCE = 250
AHEAD = timedelta(days=14)
HOURS = (
    "24/7", "24/7; PH off", "24/7 off", "", "mornings, ask", "Mo-Fr 08:00-17:00", "Mo-Fr 08:00-17:00; PH off",
    "Mo-Sa 08:00-12:00,14:00-18:00; PH 09:00-11:00", "Mo-Su 20:00-06:00", "Fr,Sa 22:00-03:00; PH off",
    "Sa,PH 09:00-12:00", "Mo-Su 00:00-24:00", "Mo-Su 01:00-03:00", "Mo-Su 02:30-23:30; PH off",
)  # fmt: skip
# Open sea, the date line, a pole, and towns north and south.
CENTRES = (
    (0.0, 0.0),
    (-17.0, 179.98),
    (89.9, 10.0),
    (-1.3, 36.8),
    (51.5, -0.1),
    (-33.9, 151.2),
    (65.0, -179.99),
)
NAMES = ("Cedar", "Birch", "birch", "Éclair", "Ωmega", "𝒵 Clinic", "\ufb01rst", "Cedar")
KINDS = ("bite", "scratch", "lick", "splash", "needlestick", "near-miss", "road", "other")
SKIN = ("whole", "broken", "bled", "deep", "unknown", None)
ASK = """async (tables) => {
  const { chooseClinic, lineWords, noneWords, whyWords } = await import('/phone/files/any/clinics.js');
  const { immunoglobulinWanted, reportOf } = await import('/phone/files/any/questions.js');
  return tables.map(({ field, position, at, known, answers }) => {
    const { kind, animal, wounds } = reportOf({ answers, happened_at: 0 }, true);
    const wanted = immunoglobulinWanted(answers, known);
    const choice = chooseClinic({ field, position, at: Date.parse(at), wanted });
    return {
      report: { kind, animal, wounds }, wanted,
      chosen: choice.chosen && choice.chosen.clinic.id,
      order: choice.order.map((one) => ({ id: one.clinic.id, ...lineWords(one, field) })),
      why: whyWords(choice, { position, known }),
      none: choice.chosen ? '' : noneWords(choice),
    };
  });
}"""


@dataclass(frozen=True)
class Table:
    """One situation: `asked` is what the phone is given, the rest what the service reads."""

    asked: dict[str, Any]
    zone: ZoneInfo
    at: datetime
    until: datetime
    spans: list[list[Span] | None]


def text(instant: datetime) -> str:
    return instant.astimezone(UTC).isoformat().replace("+00:00", "Z")


@cache
def changes(zone: str) -> list[datetime]:
    """When the clocks of a zone change in two years."""
    start = datetime(2026, 1, 1, tzinfo=UTC)
    return [at for at, _minutes in offsets_between(start, start + timedelta(days=730), ZoneInfo(zone))[1:]]


@cache
def zones() -> list[str]:
    every = sorted(name for name in available_timezones() if "/" in name and not name.startswith("Etc/"))
    return every[::5]


def table(chance: random.Random) -> Table:
    name = chance.choice(zones())
    zone = ZoneInfo(name)
    at = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(milliseconds=chance.randrange(700 * 86_400_000))
    if changes(name) and chance.random() < 0.4:
        at = chance.choice(changes(name)) + timedelta(seconds=chance.randint(-90_000, 90_000))
    age = chance.choice(
        [timedelta(0), timedelta(hours=chance.random() * 48), timedelta(days=chance.random() * 18)]
    )
    made, until = at - age, at - age + AHEAD
    day = at.astimezone(zone).date()
    holidays = [day + timedelta(days=chance.randint(-1, 3)) for _ in range(chance.choice([0, 0, 1, 3]))]
    centre = chance.choice(CENTRES)
    clinics, spans = [], []
    for number in range(chance.choice([0, 1, 2, 3, 4, 5, 6])):
        hours = chance.choice(HOURS)
        spans.append(open_spans(hours, zone=zone, holidays=holidays, start=made, end=until))
        clinics.append(clinic(chance, number, centre, day, hours, spans[-1]))
    field = {
        "zone": name,
        "travel_kmh": chance.choice([5, 20, 30, 37, 60]),
        "clinic_news_days": chance.choice([1, 3, 7, 7, 14]),
        "clinic_of_day_minutes": chance.choice([0, 10, 10, 45]),
        "immunoglobulin_minutes": chance.choice([0, 15, 30, 30, 90]),
        "clinics": clinics,
        "open_until": text(until),
        "day": (day - timedelta(days=chance.choice([0, 0, 0, 1]))).isoformat(),
        "clinic_of_the_day": chance.choice([None, 1, 2, 3]),
        "offsets": [
            [text(since), ahead] for since, ahead in offsets_between(made - timedelta(days=1), until, zone)
        ],
    }
    asked = {
        "field": field,
        "position": None if chance.random() < 0.2 else place(chance, centre),
        "at": text(at),
        "known": chance.choice(list(Known)).value,
        "answers": answers(chance),
    }
    return Table(asked, zone, at, until, spans)


def place(chance: random.Random, centre: tuple[float, float]) -> dict[str, float]:
    spread = chance.choice([0.02, 0.2, 1.0])
    latitude = max(-90.0, min(90.0, centre[0] + chance.uniform(-spread, spread)))
    longitude = (centre[1] + chance.uniform(-spread, spread) + 180) % 360 - 180
    return {"latitude": latitude, "longitude": longitude}


def clinic(
    chance: random.Random,
    number: int,
    centre: tuple[float, float],
    day: Any,
    hours: str,
    spans: list[Span] | None,
) -> dict[str, Any]:
    asked = chance.choice([None, 0, 1, 2, 7, 8, 40])
    at = {"latitude": None, "longitude": None} if chance.random() < 0.15 else place(chance, centre)
    return {
        "id": number + 1,
        "name": f"{chance.choice(NAMES)} {chance.randint(1, 2)}",
        **at,
        "vaccine": chance.choice(["yes", *Stock.values]),
        "immunoglobulin": chance.choice(Stock.values),
        "confirmed_on": None if asked is None else (day - timedelta(days=asked)).isoformat(),
        "open": None if spans is None else [[text(span.opens_at), text(span.closes_at)] for span in spans],
        "hours": hours,
    }


def answers(chance: random.Random) -> dict[str, Any]:
    said = {
        "kind": chance.choice([*KINDS, None]),
        "skin": chance.choice(SKIN),
        "licked": chance.choice(["whole", "broken", "face", "unknown", None]),
        "animal": chance.choice(["dog-owned", "dog-roaming-bare", "cat", "bat", "unknown", None]),
        "site": chance.choice([None, ["hand"], ["hand", "leg"]]),
    }
    return {name: value for name, value in said.items() if value is not None and chance.random() < 0.9}


def services_answer(one: Table, report: dict[str, Any]) -> dict[str, Any]:
    """What the service says of the person of that report, from the same list at the same instant."""
    asked, field, known = one.asked, one.asked["field"], Known(one.asked["known"])
    contacts = [
        ContactFact(ContactKind(wound["contact"]), Answer(wound["broke_skin"]), Answer(wound["bled"]))
        for wound in report["wounds"]
    ]
    suggestion = suggest_category(contacts=contacts, species=report["animal"])
    # Before anything is answered the phone counts an exposure as possible, as it does of a kind nobody knows.
    exposed = exposure_possible(report["kind"], suggestion)
    wanted = immunoglobulin_may_be_asked(category=suggestion.category, exposed=exposed, known=known)
    here = Position(**asked["position"]) if asked["position"] else None
    today = one.at.astimezone(one.zone).date()
    choice = choose_clinic(
        clinics=[fact(said, spans, here) for said, spans in zip(field["clinics"], one.spans, strict=True)],
        now=one.at,
        today=today,
        rules=ClinicRules(
            travel_kmh=field["travel_kmh"],
            news_days=field["clinic_news_days"],
            of_the_day=timedelta(minutes=field["clinic_of_day_minutes"]),
            immunoglobulin=timedelta(minutes=field["immunoglobulin_minutes"]),
        ),
        immunoglobulin_wanted=wanted,
        open_until=one.until,
        of_the_day=field["clinic_of_the_day"] if field["day"] == today.isoformat() else None,
    )
    return {"report": report, "wanted": wanted} | in_words(choice, one.zone, here is not None, known)


def in_words(choice: Choice, zone: ZoneInfo, position_known: bool, known: Known) -> dict[str, Any]:
    return {
        "chosen": choice.chosen.fact.key if choice.chosen else None,
        "order": [
            {
                "id": judged.fact.key,
                "door": door_words(judged, zone),
                "distance": distance_words(judged.fact.metres),
                "stock": stock_words(judged),
                "asked": asked_words(judged.days_since_asked),
            }
            for judged in choice.order
        ],
        "why": why_words(choice, position_known=position_known, known=known),
        "none": "" if choice.chosen else none_words(choice),
    }


def fact(said: dict[str, Any], spans: list[Span] | None, here: Position | None) -> ClinicFact:
    there = None if said["latitude"] is None else Position(said["latitude"], said["longitude"])
    confirmed = said["confirmed_on"]
    return ClinicFact(
        key=said["id"],
        name=said["name"],
        metres=metres_between(here, there) if here and there else None,
        open=spans,
        vaccine=InStock(said["vaccine"]),
        immunoglobulin=InStock(said["immunoglobulin"]),
        confirmed_on=datetime.fromisoformat(confirmed).date() if confirmed else None,
    )


def differing(page: Page, tables: int, seed: int) -> tuple[list[Any], Counter[str]]:
    """The tables on which they differ, and how many there were of each kind of answer."""
    chance, found, seen = random.Random(seed), [], Counter[str]()
    for begin in range(0, tables, AT_ONCE):
        batch = [table(chance) for _ in range(min(AT_ONCE, tables - begin))]
        for one, said in zip(batch, page.evaluate(ASK, [one.asked for one in batch]), strict=True):
            expected = services_answer(one, said["report"])
            seen.update(["tables", "somewhere to go" if said["chosen"] else "nowhere to go", *said["why"]])
            if one.at >= one.until:
                seen["an old list"] += 1
                assert said["chosen"] is None, "a list that ended sends nobody anywhere"
            if said != expected:
                found.append({"asked": one.asked, "phone": said, "service": expected})
    return found, seen


def main() -> int:
    said = argparse.ArgumentParser(description=__doc__)
    said.add_argument("--tables", type=int, default=10_000)
    said.add_argument("--seed", type=int, default=1)
    options = said.parse_args()
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        begun, port = time.monotonic(), free_port()
        launch = Launch(Path(folder) / "data", port)
        try:
            launch.until_ready()
            browser = playwright.chromium.launch(executable_path=chromium_path(), args=QUIET)
            page = browser.new_page(base_url=f"http://127.0.0.1:{port}")
            page.goto("/phone/")
            found, seen = differing(page, options.tables, options.seed)
            browser.close()
            report(found, seen, options.tables, options.seed)
            print(f"{time.monotonic() - begun:.0f} s")
        finally:
            launch.end(signal.SIGTERM)
    return 1 if found else 0


def report(found: list[Any], seen: Counter[str], tables: int, seed: int) -> None:
    for what, times in seen.most_common():
        print(f"{times:>6}  {what}")
    for one in found[:3]:
        print(one)
    print(f"{len(found)} of {tables} differ (seed {seed})", flush=True)


if __name__ == "__main__":
    raise SystemExit(main())
