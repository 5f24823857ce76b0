"""Nothing that a person wrote is cut: too long is refused with a sentence, and one module alone shortens."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django import forms
from django.urls import get_resolver
from rest_framework import serializers

from safety.models import Notice
from staff.doors.api_fields import Shape
from staff.ground.errors import Invalid
from staff.ground.limits import MORE, fitting, longest, shortened, within
from staff.models import Hold, OutingMove, SiteHoliday, Withdrawal
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
    "staff/selectors/outing/roster.py: past[:PAST_SHOWN]": "the page says how many more and leads to them",
    "staff/services/importing/files.py: text.splitlines()[:10]": "where the separator is looked for",
    "staff/services/importing/files.py: kept[:10]": "where the headings are looked for",
    "staff/services/importing/files.py: content.lstrip()[:5]": "the kind of a file",
    "staff/services/record/recompute.py: marked.values_list('person_id', flat=True)[:CHUNK]": "one chunk of many",
    "staff/services/regimen/regimen_file.py: faults[:FAULTS_SHOWN]": "the refusal says how many more there are",
    "safety/demo/programme.py: site.code[:2]": "invented staff numbers",
    "safety/pages/phone/cards.py: clinics[:MOST_CLINICS]": "the card says how many more there are, and where",
    "safety/rules/notices/delivery_report.py: mark[:16]": "a digest",
    "safety/selectors/animal/observation.py: AnimalOutcome.objects.filter(observation=OuterRef('pk'))"
    ".exclude(outcome=Outcome.ILL).order_by('-recorded_at', '-pk').values('outcome')[:1]": "a subquery",
    "safety/selectors/case/case_facts.py: courses_meant(incident)[:1]": "the first of them, if any",
    "safety/services/phone/links.py: re.sub('[\\\\s-]', '', code).upper()[:200]": "a code tried; longer ones are none",
    "safety/services/phone/reading.py: value[:MOST_ITEMS]": "named as unread; the message is kept whole",
    "safety/services/phone/receive.py: stuck[:SWEPT_AT_ONCE]": "one tick's share",
    "safety/services/phone/receive.py: arrived[:SWEPT_AT_ONCE]": "one tick's share",
    "staff/selectors/outing/on_crews.py: outings_of(person=person).filter(date=person.site.local_date(at), "
    "cancelled_at__isnull=True)[:2]": "one or several",
    "safety/services/notices/private_links.py: code.upper()[:80]": "a code tried; longer ones are none",
}
# Limits of what goes into no column, and the length of two lists.
OWN_LIMITS = [
    "safety/api/phone/card.py: 2",
    "safety/api/phone/card.py: 2",
    "safety/forms/case/case.py: SAID_BY_LENGTH",
    "safety/forms/case/report.py: 80",
    "safety/forms/clinic/clinics.py: 80",
    "staff/forms/campaign/campaigns.py: 20000",
    "staff/forms/campaign/sessions.py: 200",
    "staff/forms/record/briefings.py: 120",
    "staff/forms/regimen/regimens.py: 2000",
]
# Text that goes into no column, or whose column has no limit.
NO_COLUMN = {
    "CampaignForm.numbers": "a list of staff numbers, each looked for",
    "WhoForm.text": "looked for among names and numbers",
    "RegimenForm.source": "a column without a limit",
    "NewRegimenForm.source": "a column without a limit",
    "RegimenForm.seen": "what the page showed, compared",
    "AssignForm.role": "one of the crew roles",
    "GiftForm.said_by": "kept together with the reason, which its column has room for",
    "ReportForm.key": "an identifier",
    "ReportForm.narrative": "never refused for its length",
    "IncidentIn.narrative": "never refused for its length",
    "CardCodeForm.card_code": "a code tried",
    "CardIn.link": "a code tried",
    "MessageIn.sealed": "bounded with its body",
    "ClinicAddForm.place": "a position",
    "ClinicConfirmForm.place": "a position",
}


def test_the_sentence_names_the_field_the_limit_and_how_long_it_is() -> None:
    with pytest.raises(Invalid) as refused:
        within("x" * 307, Hold, "reason")
    assert refused.value.fields == {
        "reason": "Why: at most 300 characters fit here, and this has 307. Shorten it."
    }
    assert within("  " + "x" * 300 + " ", Hold, "reason") == "x" * 300
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
        (hold_place, {"person": roster.off, "starts_on": today}, "reason", "reason", longest(Hold, "reason")),
        (holiday_add, {"site": team.site, "day": today}, "name", "name", 80),
    ]
    for act, facts, argument, field, limit in acts:
        with pytest.raises(Invalid) as refused:
            act(actor=team.officer, now=now, **facts, **{argument: "y" * (limit + 1)})
        assert str(limit + 1) in refused.value.fields[field]
        act(actor=team.officer, now=now, **facts, **{argument: "y" * limit})
    assert [len(row.reason) for row in OutingMove.objects.all()] == [300]
    assert "y" * 300 in Withdrawal.objects.values_list("reason", flat=True)
    assert Hold.objects.get().reason == "y" * 300 and SiteHoliday.objects.get().name == "y" * 80


def _under(kind: type[Any]) -> Iterator[type[Any]]:
    for below in kind.__subclasses__():
        yield below
        yield from _under(below)


def _texts() -> Iterator[tuple[str, Any]]:
    """Every field of a form, and of a body or query of the API, into which text may be written."""
    get_resolver()._populate()
    for form in _under(forms.BaseForm):
        for name, field in getattr(form, "base_fields", {}).items():
            ours = ".forms." in form.__module__ and form.__module__.startswith(("staff.", "safety."))
            # The account's own forms are Django's, and a ModelForm reads its columns itself.
            told = form.__module__ != "staff.forms.site.account" and not issubclass(form, forms.ModelForm)
            if ours and told and isinstance(field, forms.CharField):
                yield f"{form.__name__}.{name}", field
    for shape in _under(Shape):
        for name, field in shape._declared_fields.items():  # type: ignore[attr-defined]
            if isinstance(field, serializers.CharField):
                yield f"{shape.__name__}.{name}", field


def test_every_field_that_is_backed_by_a_column_has_the_limit_of_the_column() -> None:
    seen, without = 0, set()
    for name, field in _texts():
        if not hasattr(field, "column"):
            without.add(name)
            continue
        seen += 1
        assert field.max_length == longest(field.model, field.column), name
        widget = getattr(field, "widget", None)
        assert widget is None or "maxlength" not in widget.attrs, (
            f"{name}: a browser would cut what is pasted"
        )
    assert seen > 90
    assert sorted(without) == sorted(NO_COLUMN)


def test_no_form_and_no_door_of_the_api_writes_a_limit_of_its_own() -> None:
    found = []
    for folder in ("staff/forms", "staff/api", "safety/forms", "safety/api"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.keyword) and node.arg == "max_length":
                    found.append(f"{path.relative_to(ROOT)}: {ast.unparse(node.value)}")
    assert sorted(found) == sorted(OWN_LIMITS)


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
    assert found == set(WITH_A_REASON)
