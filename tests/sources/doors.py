"""The public doors, and what a site is like while they are asked."""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

from rest_framework.test import APIClient

from safety.services.course.plan import course_plan
from staff.api.regimen.schedule import PlannedStepOut
from staff.models import Purpose, Regimen, SiteRole, SiteRules, User
from staff.services.record.letters import immunocompromised_set
from staff.services.record.recompute import recompute_catch_up
from staff.services.record.records import dose_record
from staff.services.record.titres import titre_record
from staff.services.regimen.approvals import regimen_approve, regimen_withdraw
from staff.services.regimen.regimen_drafts import regimen_submit
from staff.services.regimen.regimen_file import regimens_import
from staff.services.site.site_rules import site_rules_change
from tests.factories import REGIMENS, Team, make_user

# A Monday, nine in the morning at the site.
NOW = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
TODAY = date(2026, 3, 2)


def days_on(first: date, days: Iterable[int]) -> list[str]:
    """Dates so many days after `first`, as the doors write them. Only the calendar of Python is asked."""
    return [(first + timedelta(days=day)).isoformat() for day in days]


@dataclass(frozen=True)
class Doors:
    client: APIClient
    team: Team

    def get(self, path: str, **query: Any) -> Any:
        answer = self.client.get(f"/api/v1/{path}", query)
        assert answer.status_code == 200, answer.content
        return answer.json()

    def post(self, path: str, status: int = 200, **body: Any) -> Any:
        answer = self.client.post(f"/api/v1/{path}", body, format="json")
        assert answer.status_code == status, answer.content
        return answer.json()

    def schedule(self, code: str, day_zero: date, given: Sequence[int] = (), **body: Any) -> list[Any]:
        """The steps of a course with doses given on days counted from day 0."""
        asked = body | {"day_zero": day_zero.isoformat(), "given": days_on(day_zero, given)}
        steps = self.post(f"regimens/{code}/schedule/", **asked)["steps"]
        assert isinstance(steps, list)
        return steps

    def series(self, code: str, given: Sequence[int], route: str = "IM", **body: Any) -> Any:
        """How doses given on days counted from the first are judged, seen from long after."""
        doses = [{"given_on": day, "route": route} for day in days_on(TODAY, given)]
        return self.post(f"regimens/{code}/series/", **({"doses": doses, "on": "2029-12-31"} | body))

    def clear(self, on: date) -> tuple[bool, list[str]]:
        """Whether the member is clear on a date, and the codes of the reasons why not."""
        rows = self.get("clearance/", on=on.isoformat())
        row = next(row for row in rows if row["person"] == self.team.person.pk)
        return row["cleared"], [reason["code"] for reason in row["reasons"]]

    def explained(self, on: date = TODAY) -> Any:
        return self.get(f"people/{self.team.person.pk}/clearance/", on=on.isoformat())

    # A case, step by step.

    def bitten(self, at: datetime = NOW - timedelta(minutes=30)) -> int:
        """A bite of the member that broke the skin, reported through the door; the incident's id."""
        said = {
            "person": self.team.person.pk,
            "kind": "bite",
            "happened_at": at.isoformat(),
            "wounds": [{"contact": "bitten", "broke_skin": "yes", "bled": "yes"}],
        }
        answer = self.client.post(
            "/api/v1/incidents/", said, format="json", headers={"Idempotency-Key": str(uuid.uuid4())}
        )
        assert answer.status_code == 201, answer.content
        return int(answer.json()["id"])

    def seen(self, incident: int, decision: str, on: date = TODAY) -> None:
        said = {"clinic": self.team.clinic.pk, "visited_on": on.isoformat(), "decision": decision}
        self.post(f"incidents/{incident}/visit/", 201, **said)

    def course_of_today(self, code: str) -> list[Any]:
        """The steps of a course that a clinician ordered today, as the planner dated them."""
        return self._planned(code, TODAY, ())

    def course_after(self, code: str, first: date, days: Sequence[int]) -> list[str]:
        """The dates still due of a course begun on `first`, with doses given on those days of it."""
        return [step["due_on"] for step in self._planned(code, first, days) if step["given_on"] is None]

    def _planned(self, code: str, first: date, days: Sequence[int]) -> list[Any]:
        incident = self.bitten(NOW - (TODAY - first) - timedelta(minutes=30))
        self.seen(incident, "course", first)
        asked = {"regimen": code, "starts_on": first.isoformat()}
        course = self.post(f"incidents/{incident}/course/", 201, **asked)["id"]
        for day in days_on(first, days):
            self.post(f"courses/{course}/doses/", 201, given_on=day)
        planned = course_plan(course_id=course, now=NOW).planned_doses.order_by("number")
        return list(PlannedStepOut(planned, many=True).data)

    # What the site is like: written through the services, worked off as the tick does.

    def rule(self, **changes: Any) -> None:
        rules = SiteRules.objects.get(site=self.team.site)
        site_rules_change(actor=self.team.officer, rules=rules, changes=changes, reason="letter 2", now=NOW)
        recompute_catch_up(now=NOW)

    def use(self, *codes: str, doses_required: int = 3) -> None:
        """Have regimens approved that aren't yet, at a site that asks for so many doses."""
        standing = self.team.site.regimen_approvals.filter(withdrawn_at__isnull=True)
        self.approve(*set(codes) - set(standing.values_list("regimen__code", flat=True)))
        if doses_required != SiteRules.objects.get(site=self.team.site).doses_required:
            self.rule(doses_required=doses_required)

    def use_alone(self, code: str) -> None:
        """One pre-exposure regimen and no other: of several that are approved, one that holds is enough."""
        self.use(code)
        others = self.team.site.regimen_approvals.filter(regimen__purpose=Purpose.PRE_EXPOSURE)
        for approval in others.exclude(regimen__code=code):
            regimen_withdraw(actor=self.team.officer, approval=approval, why="letter 4", now=NOW)
        recompute_catch_up(now=NOW)

    def approve(self, *codes: str, version: int = 1, by: User | None = None) -> None:
        for code in codes:
            regimen_approve(
                actor=by or self.team.officer,
                regimen=Regimen.objects.get(code=code, version=version),
                site=self.team.site,
                authority="Health office of the test",
                approved_on=date(2026, 1, 1),
                document="letter 3",
                now=NOW,
            )
        recompute_catch_up(now=NOW)

    def own_version(self, code: str, step: int, **figures: int) -> None:
        """Version 2 of a sample with other figures in one step: drafted, submitted and approved as officers do."""
        rows = [row for row in json.loads(REGIMENS.read_text(encoding="utf-8")) if row["code"] == code]
        rows[0]["version"] = 2
        rows[0]["steps"][step - 1] |= figures
        drafter = make_user("drafter", self.team.site, SiteRole.Role.OFFICER)
        imported = regimens_import(actor=drafter, content=json.dumps(rows).encode(), now=NOW)
        regimen_submit(actor=drafter, regimen=imported.drafts[0], now=NOW)
        self.approve(code, version=2)

    def given(self, *dates: date, **more: Any) -> None:
        facts: dict[str, Any] = {"purpose": Purpose.PRE_EXPOSURE, "route": "IM"} | more
        for day in dates:
            dose_record(actor=self.team.officer, person=self.team.person, given_on=day, now=NOW, **facts)

    def immunocompromised(self) -> None:
        immunocompromised_set(
            actor=self.team.officer,
            person=self.team.person,
            immunocompromised=True,
            reason="told the officer",
            now=NOW,
        )

    def course(self, code: str, *dates: date, route: str = "IM") -> None:
        """Doses of one course after an exposure, as an old document has them."""
        regimen = Regimen.objects.get(code=code, version=1)
        purpose = Purpose(regimen.purpose)
        self.given(*dates, purpose=purpose, regimen=regimen, route=route)

    def titre(self, taken_on: date, value: str) -> None:
        titre_record(
            actor=self.team.officer,
            person=self.team.person,
            taken_on=taken_on,
            iu_per_ml=Decimal(value),
            now=NOW,
        )
