"""Nothing that a person wrote is cut: too long is refused with a sentence, and one module alone shortens."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from safety.forms.animal.observation import BeginForm
from safety.forms.course.course import PlaceForm
from safety.forms.notices.absences import AbsenceForm
from safety.models import Absence, Course, Notice, Observation
from staff.forms.record.people import PersonForm
from staff.forms.record.record import DoseForm, HoldForm, ReleaseForm
from staff.ground.errors import Invalid
from staff.ground.limits import MORE, fitting, longest, shortened, within
from staff.models import Dose, Hold, OutingMove, Person, SiteHoliday, Withdrawal
from staff.services.outing.outings import outing_move
from staff.services.outing.roster import roster_withdraw
from staff.services.record.holds import hold_place
from staff.services.site.holidays import holiday_add
from tests.staff.roster_case import Roster

ROOT = Path(__file__).resolve().parents[2]
# Constant slices that cut nobody's words, each with its reason.
WITH_A_REASON = {
    "staff/forms/importing/importing.py: [value for value in values if value][:SAMPLES]": "samples of a column",
    "staff/forms/importing/importing.py: self.sheet.body[:50]": "rows the samples are taken from",
    "staff/pages/importing/importing.py: findings[:FINDINGS_SHOWN]": "the page says how many there are",
    "staff/pages/importing/importing.py: plan.people[:PEOPLE_SHOWN]": "a sample; the page says how many there are",
    "staff/pages/record/records.py: line.words[:1]": "the first letter, made small",
    "staff/pages/regimen/regimens.py: version[:4]": "a number out of an address",
    "staff/rules/importing/columns.py: rows[:10]": "where the headings are looked for",
    "staff/selectors/campaign/campaigns.py: [day for day in span if day.weekday() in chosen][:DAYS_AT_MOST]": "days planned",
    "staff/selectors/outing/roster_proposal.py: others[:NAMED]": "the gap says how many more there are",
    "staff/services/importing/files.py: text.splitlines()[:10]": "where the separator is looked for",
    "staff/services/importing/files.py: kept[:10]": "where the headings are looked for",
    "staff/services/importing/files.py: content.lstrip()[:5]": "the kind of a file",
    "staff/services/record/recompute.py: marked.values_list('person_id', flat=True)[:CHUNK]": "one chunk of many",
    "staff/services/regimen/regimen_file.py: faults[:FAULTS_SHOWN]": "the refusal says how many more there are",
    "safety/demo/programme.py: site.code[:2]": "invented staff numbers",
    "safety/pages/phone/cards.py: clinics[:MOST_CLINICS]": "the card says how many more there are, and where",
    "safety/rules/notices/delivery_report.py: mark[:16]": "a digest",
    "safety/selectors/animal/observation.py: AnimalOutcome.objects.filter(observation=OuterRef('pk'), voided_at__isnull=True)"
    ".exclude(outcome=Outcome.ILL).order_by('-recorded_at', '-pk').values('outcome')[:1]": "a subquery",
    "safety/selectors/steps.py: courses_meant(incident)[:1]": "the first of them, if any",
    "safety/services/phone/links.py: re.sub('[\\\\s-]', '', code).upper()[:200]": "a code tried; longer ones are none",
    "safety/services/phone/reading.py: value[:MOST_ITEMS]": "named as unread; the message is kept whole",
    "safety/services/phone/receive.py: stuck[:SWEPT_AT_ONCE]": "one tick's share",
    "safety/services/phone/receive.py: arrived[:SWEPT_AT_ONCE]": "one tick's share",
    "safety/services/phone/sender.py: Outing.objects.filter(date=person.site.local_date(happened_at), "
    "assignments__person=person, cancelled_at__isnull=True)[:2]": "one or several",
    "safety/services/notices/private_links.py: code.upper()[:80]": "a code tried; longer ones are none",
}
# Reasons of what is taken back, and a preview: these may go, and none may come.
TO_GO = {
    "staff/selectors/site/rules_preview.py: Outing.objects.filter(site=site, date__gte=today, cancelled_at__isnull=True)"
    ".order_by('date')[:OUTINGS_SHOWN]",
    "staff/services/campaign/community.py: reason[:300]",
    "staff/services/voiding.py: need_reason(reason)[:300]",
    "safety/services/case/case.py: reason[:300]",
    "safety/services/crew_day/departures.py: need_reason(reason)[:300]",
    "safety/services/animal/observation.py: need_reason(reason)[:300]",
    "safety/services/crew_day/returns.py: need_reason(reason)[:300]",
    "safety/services/case/washing.py: reason[:300]",
}


def test_the_sentence_names_the_field_the_limit_and_how_long_it_is() -> None:
    with pytest.raises(Invalid) as refused:
        within("x" * 207, Hold, "reason")
    assert refused.value.fields == {
        "reason": "Why: at most 200 characters fit here, and this has 207. Shorten it."
    }
    assert within("  " + "x" * 200 + " ", Hold, "reason") == "x" * 200
    with pytest.raises(Invalid) as refused:
        within("x" * 301, Hold, "release_note", field="note")
    assert set(refused.value.fields) == {"note"}


def test_what_a_machine_wrote_ends_with_an_ellipsis_where_some_is_left_out() -> None:
    assert shortened("as it is", 8) == "as it is"
    assert shortened("one too long", 8) == "one too" + MORE
    told = fitting("550 " + "x" * 600, Notice, "last_error")
    assert len(told) == longest(Notice, "last_error") == 500 and told.endswith(MORE)


@pytest.mark.django_db
def test_services_refuse_what_does_not_fit_and_keep_what_does_whole(roster: Roster, now: datetime) -> None:
    team, outing = roster.team, roster.outing
    today = team.site.local_date(now)
    acts: list[tuple[Any, dict[str, Any], str, str, int]] = [
        (outing_move, {"outing": outing, "date": outing.date + timedelta(1)}, "reason", "reason", 300),
        (roster_withdraw, {"assignment": roster.on}, "reason", "reason", 300),
        (hold_place, {"person": roster.off, "starts_on": today}, "reason", "reason", 200),
        (holiday_add, {"site": team.site, "day": today}, "name", "name", 80),
    ]
    for act, facts, argument, field, limit in acts:
        with pytest.raises(Invalid) as refused:
            act(actor=team.officer, now=now, **facts, **{argument: "y" * (limit + 1)})
        assert str(limit + 1) in refused.value.fields[field]
        act(actor=team.officer, now=now, **facts, **{argument: "y" * limit})
    assert [len(row.reason) for row in OutingMove.objects.all()] == [300]
    assert "y" * 300 in Withdrawal.objects.values_list("reason", flat=True)
    assert Hold.objects.get().reason == "y" * 200 and SiteHoliday.objects.get().name == "y" * 80


def test_forms_ask_for_no_other_limit_than_the_columns() -> None:
    for form, field, model, column in (
        (HoldForm, "reason", Hold, "reason"),
        (ReleaseForm, "note", Hold, "release_note"),
        (DoseForm, "product", Dose, "product"),
        (DoseForm, "batch", Dose, "batch"),
        (DoseForm, "place", Dose, "place"),
        (PersonForm, "name", Person, "name"),
        (PersonForm, "phone", Person, "phone"),
        (AbsenceForm, "note", Absence, "note"),
        (PlaceForm, "place", Course, "place"),
        (PlaceForm, "phone", Course, "place_phone"),
        (BeginForm, "described", Observation, "described"),
    ):
        assert form.base_fields[field].max_length == longest(model, column), (form, field)  # type: ignore[attr-defined]


def _constant_slices(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if not (isinstance(node, ast.Subscript) and isinstance(node.slice, ast.Slice)):
            continue
        upper = node.slice.upper
        fixed = isinstance(upper, ast.Constant) or isinstance(upper, ast.Name) and upper.id.isupper()
        if fixed and node.slice.lower is None and not ast.unparse(node.value).endswith("hexdigest()"):
            yield ast.unparse(node)


def test_no_constant_slice_is_left_but_those_with_a_reason() -> None:
    found = set()
    for app in ("staff", "safety"):
        for path in sorted((ROOT / app).rglob("*.py")):
            if "migrations" not in path.parts:
                found |= {
                    f"{path.relative_to(ROOT)}: {one}"
                    for one in _constant_slices(ast.parse(path.read_text(encoding="utf-8")))
                }
    assert found - TO_GO == set(WITH_A_REASON)
