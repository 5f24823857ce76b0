"""What each reader makes of a case, read the way its own user reads it, and held against `needs_of`."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from django.db import transaction
from django.test import Client, RequestFactory
from django.urls import reverse
from rest_framework.test import APIClient

from config.context import shell
from safety.errors import Refused
from safety.models import Course, Incident, Notice
from safety.notices.case.matter import MATTERS
from safety.notices.case.report import NEW_REPORT, REPORTS
from safety.notices.course.dose import DOSES
from safety.rules.case.needs import NeedCode
from safety.rules.notices.follow_up import Subject
from safety.selectors.case.cases import needs_clinic
from safety.selectors.case.desk import COMING, desk_of
from safety.selectors.case.need import Need
from safety.selectors.case.needs import needs_of
from safety.selectors.notices.summary import AHEAD, summary_of
from safety.selectors.upkeep.status import figures
from safety.services.case.closing import incident_close
from safety.services.notices.notices import notices_bring, origin_reconcile, still_true
from staff.models import Hold
from tests.safety.needs.histories import DAY, Life

Row = tuple[str, date | None, bool]
KINDS = {Subject.VISIT: "visit-late", Subject.DECISION: "decision-late", Subject.TITRE: "titre-due"}
# Days from the due date on which the shipped plan first tells of each.
FIRST = {Subject.VISIT: 1, Subject.DECISION: 1, Subject.TITRE: 0}
ANIMAL = frozenset(code for code in NeedCode if code.startswith("animal-"))


class Disagree(AssertionError):
    """A reader says something else than the case needs."""


class Undone(Exception):
    """Takes back what a reader had to do to be read."""


def row(need: Need) -> Row:
    return (str(need.code), need.due_on, need.late)


def needs(life: Life) -> tuple[Need, ...]:
    return needs_of(life.incident, life.now)


def of(life: Life, *codes: NeedCode) -> list[Need]:
    return [need for need in life.known if need.code in codes]


def same(life: Life, reader: str, said: object, wanted: object) -> None:
    if said != wanted:
        story = "\n  ".join(life.said)
        raise Disagree(f"{reader} says\n {said}\nthe case needs\n {wanted}\nat {life.now}:\n  {story}")


def desk(life: Life) -> None:
    found = desk_of(life.team.officer, life.now)
    said = {row(task.need) for task in (*found.late, *found.today, *found.coming, *found.undated)}
    last = life.today + COMING
    wanted = {row(each) for each in life.known if each.late or each.due_on is None or each.due_on <= last}
    same(life, "desk", said, wanted)
    late = {row(task.need) for task in found.late}
    same(life, "desk, late", late, {row(each) for each in life.known if each.late})


def banner(life: Life) -> None:
    request = RequestFactory().get("/")
    request.user = life.team.officer
    now: Any = shell(request)["needs_now"]
    same(life, "banner, unseen", now.unseen, len(of(life, NeedCode.VISIT)))
    late = [(each.course, each.number) for each in of(life, NeedCode.DOSE) if each.late]
    same(life, "banner, doses", [(each.course, each.number) for each in now.overdue], late)


def api(life: Life) -> None:
    client = APIClient()
    client.force_authenticate(life.team.liaison)
    answer = client.get(reverse("api-incident", args=[life.incident.reference])).json()
    said = [(each["code"], each["due_on"], each["late"]) for each in answer["needs"]]
    wanted = [(code, due.isoformat() if due else None, late) for code, due, late in map(row, life.known)]
    same(life, "API", said, wanted)


def page(life: Life) -> None:
    life.known = needs(life)
    client = Client()
    client.force_login(life.team.officer)
    shown = client.get(reverse("case", args=[life.incident.reference]))
    same(life, "page", [row(link.need) for link in shown.context["needs"]], [*map(row, life.known)])
    same(life, "page, clinic", shown.context["wants_clinic"], bool(of(life, NeedCode.VISIT)))


def closing(life: Life) -> None:
    code = ""
    try:
        with transaction.atomic():
            incident_close(
                actor=life.team.officer,
                incident=life.incident,
                reason="Tried.",
                now=life.now,
            )
            raise Undone
    except Undone:
        pass
    except Refused as refusal:
        code = refusal.code
    bars = {need.bars.value for need in life.known if need.bars} if life.incident.is_open else {"case-closed"}
    same(life, "closing", code in bars if code else not bars, True)


def hold(life: Life) -> None:
    """Whoever waits for the first visit is held; once a clinic has seen an exposed person this case holds nobody.

    A hold of a report that turned out harmless stays until an officer ends it.
    """
    stands = Hold.objects.filter(source=f"incident:{life.about}", released_at=None).exists()
    unseen = [need for need in of(life, NeedCode.VISIT) if "another clinic" not in need.words]
    if life.incident.is_open and needs_clinic(life.incident):
        same(life, "hold", stands, bool(unseen))


def case_notices(life: Life) -> None:
    origin_reconcile(origin=MATTERS, now=life.now)
    waiting = Notice.objects.filter(incident=life.incident, state=Notice.State.WAITING)
    for subject, kind in KINDS.items():
        said = set(waiting.filter(kind=kind).values_list("when_on", flat=True))
        wanted = {
            each.due_on
            for each in life.known
            if each.row.subject is subject
            and each.due_on is not None
            and (FIRST[subject] == 0 or each.due_on + FIRST[subject] * DAY <= life.today)
        }
        same(life, kind, said, wanted)


def new_report(life: Life) -> None:
    origin_reconcile(origin=REPORTS, now=life.now)
    rows = Notice.objects.filter(incident=life.incident, kind=NEW_REPORT.name, state=Notice.State.WAITING)
    unseen = [each for each in of(life, NeedCode.VISIT) if "another clinic" not in each.words]
    newest = rows.order_by("-pk").first()
    if unseen and life.incident.reported_at > life.now - timedelta(days=7):
        same(life, "new report, told", newest is not None and still_true(newest, life.now), True)
    if not unseen:
        same(life, "new report", any(still_true(each, life.now) for each in rows), False)


def dose_notices(life: Life) -> None:
    courses = list(Course.objects.filter(incident=life.incident, ended_on=None))
    for course in courses:
        notices_bring(origin=DOSES, subject=course, now=life.now)
    rows = Notice.objects.filter(incident=life.incident, state=Notice.State.WAITING, audience="liaison")
    overdue = set(rows.filter(kind="overdue").values_list("step", flat=True))
    day_after = rows.filter(kind="day-after", send_on=life.today)
    doses = of(life, NeedCode.DOSE)
    late = {each.number for each in doses if each.late}
    same(life, "notices, overdue too soon", overdue - late, set())
    told = overdue | set(day_after.values_list("step", flat=True))
    same(life, "notices, late and silent", late - told, set())
    now_due = {each.number for each in doses if each.due_on is not None and each.due_on <= life.today}
    same(life, "notices, due and silent", now_due - set(rows.values_list("step", flat=True)), set())


def counts(life: Life) -> None:
    found = figures(life.now)
    same(life, "status, unseen", found.cases_without_visit, len(of(life, NeedCode.VISIT)))
    late_doses = sum(each.late for each in of(life, NeedCode.DOSE))
    same(life, "status, doses", found.doses_overdue, late_doses)


def summary(life: Life) -> None:
    said = summary_of(life.team.site, life.today)
    told = of(life, NeedCode.VISIT, NeedCode.DOSE, *(ANIMAL - {NeedCode.ANIMAL_WATCH}))
    same(life, "summary, late", said.late, sum(each.late for each in told))
    near = [each for each in told if not each.late and each.due_on and each.due_on <= life.today + AHEAD]
    same(life, "summary, waiting", said.waiting >= len(near), True)


READERS: dict[str, Callable[[Life], None]] = {
    "desk": desk,
    "banner": banner,
    "api": api,
    "closing": closing,
    "hold": hold,
    "case notices": case_notices,
    "new report": new_report,
    "dose notices": dose_notices,
    "counts": counts,
    "summary": summary,
}


def look(life: Life) -> None:
    """Every reader but the page, which is slow and looked at once a history."""
    if Incident.objects.filter(key=life.about).exists():
        life.known = needs(life)
        for reader in READERS.values():
            reader(life)
