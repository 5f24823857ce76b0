"""Campaigns and the sessions planned for them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from staff.ground.errors import Conflict, Invalid
from staff.ground.transactions import retried
from staff.models import Campaign, CampaignMember, Person, Regimen, Session, SessionPlace, Site, User
from staff.planning.sessions import ProposedSessions, Visit
from staff.selectors.campaign.campaigns import propose
from staff.selectors.regimen.regimens import approved_at
from staff.services.audit import audit_write
from staff.services.record.clearance import need_reason

Outcome = SessionPlace.Outcome


@retried
def campaign_create(
    *,
    actor: User,
    site: Site,
    name: str,
    starts_on: date,
    regimen: Regimen,
    route: str,
    vial_ml: Decimal,
    dose_ml: Decimal,
    place: str,
    people: Iterable[Person],
    now: datetime,
) -> Campaign:
    """Set down a campaign and its people. Raises `Invalid` for what doesn't fit, `Conflict` for a name taken."""
    if starts_on < site.local_date(now):
        raise Invalid({"starts_on": _("Choose today or a later date.")})
    if not approved_at(site, regimen.purpose).filter(pk=regimen.pk).exists():
        raise Invalid({"regimen": _("This regimen isn't approved for the site.")})
    if route not in regimen.routes:
        raise Invalid({"route": _("The regimen doesn't accept this route.")})
    needed = sum(not step.later for step in regimen.steps.all())
    if needed < site.rules.doses_required:
        raise Invalid({"regimen": _("This regimen has fewer doses than the site requires.")})
    if not 0 < dose_ml <= vial_ml:
        raise Invalid({"vial_ml": _("A vial must hold at least one injection.")})
    try:
        with transaction.atomic():
            campaign = Campaign.objects.create(
                site=site,
                name=name,
                starts_on=starts_on,
                regimen=regimen,
                route=route,
                vial_ml=vial_ml,
                dose_ml=dose_ml,
                place=place,
                created_by=actor,
                created_at=now,
            )
            campaign_people_set(actor=actor, campaign=campaign, people=people, now=now)
    except IntegrityError as error:
        message = _("A campaign of this name is planned already at this site.")
        raise Conflict(message, code="campaign-name-taken", fields={"name": message}) from error
    return campaign


@retried
def campaign_people_set(*, actor: User, campaign: Campaign, people: Iterable[Person], now: datetime) -> None:
    """Make `people` the campaign's list. Who leaves it keeps the outcomes of sessions that were held."""
    wanted = {person.pk: person for person in people}
    if any(person.site_id != campaign.site_id for person in wanted.values()):
        raise Invalid({"people": _("Choose people of this site.")})
    if not wanted:
        raise Invalid({"people": _("Choose at least one person.")})
    with transaction.atomic():
        Campaign.objects.select_for_update(no_key=True).get(pk=campaign.pk)
        held = set(campaign.members.values_list("person", flat=True))
        campaign.members.exclude(person__in=wanted).delete()
        CampaignMember.objects.bulk_create(
            CampaignMember(campaign=campaign, person_id=key) for key in sorted(set(wanted) - held)
        )
        gone = SessionPlace.objects.filter(
            session__campaign=campaign, session__state=Session.State.PLANNED, outcome=Outcome.EXPECTED
        )
        gone.exclude(person__in=wanted).update(outcome=Outcome.MOVED)
        audit_write(
            actor=actor,
            action="campaign.people",
            now=now,
            site=campaign.site,
            target=f"campaign:{campaign.pk}",
            people=len(wanted),
        )


def fingerprint(plan: ProposedSessions) -> str:
    """The same for the same visits, so that what is kept is what was seen."""
    text = ";".join(f"{visit.on}/{visit.key}/{visit.number}" for visit in plan.visits)
    return hashlib.sha256(text.encode()).hexdigest()[:24]


@retried
def sessions_plan(
    *,
    actor: User,
    campaign: Campaign,
    days: Sequence[date],
    people_at_most: int | None,
    seen: str,
    now: datetime,
) -> list[Session]:
    """Make the proposed sessions the campaign's, in place of those still planned from today on.

    `seen` is the fingerprint of the proposal as it was shown; `Conflict` when the record has changed since.
    People taken out of a session, and sessions that fall away, stay readable as moved and cancelled.
    """
    with transaction.atomic():
        Campaign.objects.select_for_update(no_key=True).get(pk=campaign.pk)
        today = campaign.site.local_date(now)
        plan = propose(campaign, today=today, days=days, people_at_most=people_at_most).plan
        if fingerprint(plan) != seen:
            raise Conflict(
                _("The records changed since this proposal was made; look at the new one."),
                code="proposal-changed",
            )
        if not plan.visits:
            raise Conflict(_("There is no session to plan."), code="nothing-to-plan")
        waiting = campaign.sessions.select_for_update(no_key=True).filter(
            state=Session.State.PLANNED, held_on__gte=today
        )
        known = {session.held_on: session for session in waiting}
        _cancel([session for day, session in known.items() if day not in plan.days], now)
        sessions = [_session(actor, campaign, day, plan.on(day), known, now) for day in plan.days]
        audit_write(
            actor=actor,
            action="sessions.planned",
            now=now,
            site=campaign.site,
            target=f"campaign:{campaign.pk}",
            days=[day.isoformat() for day in plan.days],
            vials=plan.vials,
        )
    return sessions


def _session(
    actor: User,
    campaign: Campaign,
    day: date,
    visits: Sequence[Visit],
    known: Mapping[date, Session],
    now: datetime,
) -> Session:
    session = known.get(day)
    if session is None:
        # A session of that day that was held already keeps its list; who still lacks a dose joins it.
        session, _made = Session.objects.exclude(state=Session.State.CANCELLED).get_or_create(
            campaign=campaign,
            held_on=day,
            defaults={
                "site": campaign.site,
                "place": campaign.place,
                "planned_by": actor,
                "planned_at": now,
                "changed_at": now,
            },
        )
    before = set(session.places.filter(outcome=Outcome.EXPECTED).values_list("person", "number"))
    wanted = {(visit.key, visit.number) for visit in visits}
    if before and before != wanted:
        session.sequence, session.changed_at = session.sequence + 1, now
        session.save(update_fields=["sequence", "changed_at"])
    session.places.filter(outcome=Outcome.EXPECTED).exclude(
        person__in=[visit.key for visit in visits]
    ).update(outcome=Outcome.MOVED)
    for visit in visits:
        SessionPlace.objects.update_or_create(
            session=session,
            person_id=visit.key,
            defaults={
                "number": visit.number,
                "injections": visit.injections,
                "outcome": Outcome.EXPECTED,
                "dose": None,
            },
        )
    return session


def _cancel(sessions: Iterable[Session], now: datetime) -> None:
    for session in sessions:
        session.state, session.sequence, session.changed_at = (
            Session.State.CANCELLED,
            session.sequence + 1,
            now,
        )
        session.save(update_fields=["state", "sequence", "changed_at"])
        session.places.filter(outcome=Outcome.EXPECTED).update(outcome=Outcome.MOVED)


@retried
def session_cancel(*, actor: User, session: Session, reason: str, now: datetime) -> None:
    """Call off a session that wasn't held; its people are proposed anew."""
    reason = need_reason(reason)
    with transaction.atomic():
        locked = Session.objects.select_for_update(no_key=True).get(pk=session.pk)
        if locked.state != Session.State.PLANNED:
            raise Conflict(
                _("This session is %(state)s.") % {"state": locked.get_state_display()},
                code="session-not-planned",
            )
        _cancel([locked], now)
        audit_write(
            actor=actor,
            action="session.cancelled",
            now=now,
            site=session.site,
            target=f"session:{session.pk}",
            reason=reason,
        )
