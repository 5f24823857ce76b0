"""What a case waits for beside its doses: a visit, a decision, a titre nobody has recorded."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime

from django.db.models import Exists, OuterRef, QuerySet
from django.utils.translation import gettext_lazy as _

from safety import registry
from safety.models import Incident, Notice
from safety.notices.rows import by_key, new_notice
from safety.registry import Counted, NoticeKind, Origin
from safety.rules.notices.follow_up import (
    Audience,
    PlannedDose,
    PlanRow,
    Subject,
    WantedNotice,
    wanted_notices,
)
from safety.rules.notices.forecast import forecast
from safety.selectors.case.matters import Matter, incidents_open, matters_of
from safety.selectors.notices.plans import plan_of
from safety.selectors.notices.recipients import Recipient, audience_of
from staff.models import Site


def _subjects(_now: datetime) -> Iterable[Incident]:
    yield from incidents_open()
    waiting = Notice.objects.filter(
        incident=OuterRef("pk"), state=Notice.State.WAITING, kind__in=registry.names_of(MATTERS)
    )
    # Closed since: nothing of theirs is wanted any more.
    yield from Incident.objects.filter(Exists(waiting), closed_at__isnull=False)


def _subject_of(notice: Notice) -> Incident | None:
    return incidents_open().filter(notices=notice.pk).first()


def wanted_of_case(incident: Incident, now: datetime) -> list[tuple[Subject, WantedNotice]]:
    matters = matters_of(incident)
    plan = plan_of(incident.site) if matters else ()
    today = incident.site.local_date(now)
    return [
        (matter.what, notice)
        for matter in matters
        for notice in wanted_notices(
            doses=_due(matter), plan=plan, today=today, ended=False, what=matter.what
        )
    ]


def _due(matter: Matter) -> list[PlannedDose]:
    return [PlannedDose(step=0, due_on=matter.due_on, given_on=None)]


def _foreseen(site: Site, now: datetime, plan: Sequence[PlanRow], days: int) -> Iterator[registry.Coming]:
    today = site.local_date(now)
    for incident in incidents_open().filter(site=site):
        for matter in matters_of(incident):
            coming = forecast(
                doses=_due(matter), plan=plan, today=today, ended=False, what=matter.what, days=days
            )
            yield from ((incident, None, each) for each in coming)


def _wanted(incident: Incident, now: datetime) -> dict[str, Notice]:
    wanted = wanted_of_case(incident, now)
    if not wanted:
        return {}
    readers = {audience: audience_of(incident, audience, now) for audience in Audience}
    return by_key(
        _row(incident, what, notice, reader, now)
        for what, notice in wanted
        for reader in readers[notice.audience]
    )


def _row(incident: Incident, what: Subject, wanted: WantedNotice, reader: Recipient, now: datetime) -> Notice:
    return new_notice(
        key=f"case-{incident.pk}:{what}:{wanted.due_on}:{wanted.send_on}:{reader.mark}",
        kind=wanted.stage,
        site=incident.site,
        reader=reader,
        send_on=wanted.send_on,
        hour=wanted.hour,
        when_on=wanted.due_on,
        reference=incident.reference,
        path=f"/cases/{incident.reference}/",
        audience=wanted.audience,
        now=now,
        incident=incident,
    )


def _standing(incident: Incident, _now: datetime) -> QuerySet[Notice]:
    return Notice.objects.filter(incident=incident, kind__in=registry.names_of(MATTERS)).order_by("pk")


def _stands(what: Subject) -> Callable[[Notice], bool]:
    def stands(notice: Notice) -> bool:
        incident = _subject_of(notice)
        return incident is not None and any(matter.what == what for matter in matters_of(incident))

    return stands


MATTERS = Origin(
    name="notices of what cases wait for",
    subjects=_subjects,
    subject_of=_subject_of,
    wanted=_wanted,
    standing=_standing,
    foreseen=_foreseen,
)

# A stage of the plan (safety.rules.notices.site_plan) is a kind.
_STAGES = (
    ("visit-late", _("a clinic visit isn't recorded"), "case_open", Subject.VISIT),
    ("decision-late", _("a clinician's decision or course isn't recorded"), "case_open", Subject.DECISION),
    ("titre-due", _("a titre after a course is due"), "dose", Subject.TITRE),
)
KINDS = tuple(
    NoticeKind(
        name=name,
        word=word,
        template=template,
        origin=MATTERS,
        asks=_stands(what),
        may_share=True,
        counted_as=Counted.ALONE,
    )
    for name, word, template, what in _STAGES
)
