"""The animal under observation: begun, checked day by day, ended in words; every entry can be taken back with a reason.

Nothing here changes a course: what the animal does is told to the clinician, and the clinician decides.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from safety.errors import Conflict, Invalid
from safety.models import AnimalCheck, AnimalLink, AnimalOutcome, Incident, Observation, Outcome, Seen
from safety.notices.case.animal import ANIMALS, watched
from safety.rules.animal import observation as rule
from safety.selectors.animal.observation import WATCHABLE, standing_checks, standing_outcomes, state_of
from safety.services.case.closing import lock_open_case
from safety.services.notices.notices import notices_tell
from staff.ground.limits import within
from staff.ground.transactions import retried
from staff.models import User
from staff.services.audit import audit_write
from staff.services.voiding import already_voided


@retried
def observation_begin(
    *,
    actor: User,
    incident: Incident,
    described: str,
    now: datetime,
    where: str = "",
    keeper: str = "",
    keeper_phone: str = "",
) -> Observation:
    """Begin to watch a dog or cat for the site's number of days; the day of the exposure is day 0, whenever this is called."""
    if incident.animal not in WATCHABLE:
        raise Conflict(
            _(
                "Only a dog or a cat is watched: ask the clinician and the veterinary authority about this animal."
            ),
            code="animal-not-watched",
        )
    if not described.strip():
        raise Invalid({"described": _("Say which animal it is, so that everybody watches the same one.")})
    site = incident.site
    first_on = site.local_date(incident.happened_at)
    try:
        with transaction.atomic():
            lock_open_case(incident)
            observation = Observation.objects.create(
                incident=incident,
                described=within(described, Observation, "described"),
                where=within(where, Observation, "where"),
                keeper=within(keeper, Observation, "keeper"),
                keeper_phone=within(keeper_phone, Observation, "keeper_phone"),
                first_on=first_on,
                last_on=rule.observation_ends_on(first_on, site.rules.observation_days),
                begun_on=site.local_date(now),
                begun_at=now,
                begun_by=actor,
            )
            _audit(actor, observation, "begun", now, last_on=observation.last_on.isoformat())
    except IntegrityError as error:
        raise Conflict(
            _("An animal is being watched for this case already."), code="animal-watched"
        ) from error
    return observation


@retried
def check_record(
    *,
    observation: Observation,
    day: date,
    seen: str,
    now: datetime,
    actor: User | None = None,
    link: AnimalLink | None = None,
    note: str = "",
) -> AnimalCheck:
    """What was seen of the animal on one day: by an account, or by who holds the link. The newest word of a day counts.

    The same word said again by the same is the same row.
    """
    _check_seen(observation, day, seen, now)
    note = within(note, AnimalCheck, "note")
    with transaction.atomic():
        locked = lock_observation(observation)
        if state_of(locked, locked.incident.site.local_date(now)) not in (
            rule.Watch.WATCHING,
            rule.Watch.LAST_DAY,
        ):
            raise Conflict(
                _("The observation has ended; void its outcome first if that was wrong."),
                code="observation-ended",
            )
        last = [check for check in standing_checks(locked) if check.day == day][-1:]
        said = (seen, note, actor, link)
        if last and (last[0].seen, last[0].note, last[0].recorded_by, last[0].link) == said:
            return last[0]
        check = locked.checks.create(
            day=day, seen=seen, note=note, recorded_at=now, recorded_by=actor, link=link
        )
        detail = {"by_link": link.pk} if link else {}
        _audit(actor, locked, "checked", now, day=day.isoformat(), seen=seen, **detail)
        notices_tell(origin=ANIMALS, subject=watched(locked, now), now=now)
    return check


def _check_seen(observation: Observation, day: date, seen: str, now: datetime) -> None:
    if seen not in Seen.values:
        raise Invalid({"seen": _("Choose how the animal is.")})
    if day > observation.incident.site.local_date(now):
        raise Invalid({"day": _("This day hasn't come yet; a check says what was seen.")})
    if day < observation.first_on:
        raise Invalid({"day": _("This lies before the exposure; check the date.")})


def check_well_rests(observation: Observation) -> None:
    outcomes = [rule.Outcome(row.outcome) for row in standing_outcomes(observation)]
    if rule.Outcome.WELL not in outcomes:
        return
    objection = rule.objection_to(
        rule.Outcome.WELL,
        last_on=observation.last_on,
        checks=[check.as_fact() for check in standing_checks(observation)],
        outcomes=[],
        note="",
        today=observation.last_on,
    )
    if objection is rule.Objection.LAST_CHECK_MISSING:
        message = _("“Well at the end” rests on this check: void that entry first, and tell the clinician.")
        raise Conflict(message, code="animal-well-rests")


@retried
def outcome_record(
    *, actor: User, observation: Observation, outcome: str, known_on: date, now: datetime, note: str = ""
) -> AnimalOutcome:
    """Put on record what became of the animal; refused with what is missing where it can't be so."""
    if outcome not in Outcome.values:
        raise Invalid({"outcome": _("Choose what is known of the animal.")})
    today = observation.incident.site.local_date(now)
    if not observation.first_on <= known_on <= today:
        raise Invalid({"known_on": _("Give a date from the day of the exposure up to today.")})
    with transaction.atomic():
        locked = lock_observation(observation)
        objection = rule.objection_to(
            rule.Outcome(outcome),
            last_on=locked.last_on,
            checks=[check.as_fact() for check in standing_checks(locked)],
            outcomes=[rule.Outcome(row.outcome) for row in standing_outcomes(locked)],
            note=note,
            # What was known on an earlier day was known with what had been seen by then.
            today=known_on,
        )
        if objection is not None:
            raise _refusal(objection, locked)
        made = locked.outcomes.create(
            outcome=outcome,
            known_on=known_on,
            note=within(note, AnimalOutcome, "note"),
            recorded_at=now,
            recorded_by=actor,
        )
        _audit(actor, locked, "outcome", now, outcome=outcome, known_on=known_on.isoformat())
        notices_tell(origin=ANIMALS, subject=watched(locked, now), now=now)
    return made


def lock_observation(observation: Observation) -> Observation:
    """The observation's own row, locked until the caller's transaction ends; refused when it is voided."""
    locked = (
        Observation.everything.select_for_update(of=("self",), no_key=True)
        .select_related("incident__site__rules", "incident__person")
        .get(pk=observation.pk)
    )
    if locked.voided_at is not None:
        raise already_voided(gettext_lazy("This observation is voided already; begin a new one."))
    return locked


def _audit(actor: User | None, observation: Observation, what: str, now: datetime, **detail: Any) -> None:
    incident = observation.incident
    audit_write(
        actor=actor,
        action=f"animal.{what}",
        now=now,
        person=incident.person,
        target=incident.reference,
        observation=observation.pk,
        **detail,
    )


def _refusal(objection: rule.Objection, observation: Observation) -> Conflict:
    day = date_format(observation.last_on, "DATE_FORMAT")
    words = {
        rule.Objection.TOO_EARLY: _(
            "The observation lasts through %(day)s: “well at the end” can be said from then on."
        ),
        rule.Objection.LAST_CHECK_MISSING: _(
            "The newest check must be of %(day)s or later and say that the animal is well: have it looked at, "
            "and record that check first."
        ),
        rule.Objection.NOT_ALIVE: _(
            "An entry that stands says that the watch ended before: void what is wrong first."
        ),
        rule.Objection.SAYS_NOBODY_JUDGED: _(
            "Signs or an escape stand on record: say in the note who judged the animal to be well."
        ),
        rule.Objection.NO_SAMPLE: _("Record the sample first; the laboratory's answer is to that."),
        rule.Objection.SAMPLE_ON_RECORD: _("A sample is on record already; record the laboratory's answer."),
        rule.Objection.ALREADY_SO: _("This is on record already."),
    }[objection] % {"day": day}
    field = "note" if objection is rule.Objection.SAYS_NOBODY_JUDGED else "outcome"
    return Conflict(words, code=f"animal-{objection.value}", fields={field: words})
