"""Reading incidents, courses and what a case still needs."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db.models import Count, F, IntegerField, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from safety.models import Course, CourseFact, Incident, Kind, PlannedDose
from safety.rules.case.category import Category, CategoryReason, Suggestion, suggest_category
from safety.rules.case.washing import WashSummary, wash_summary
from staff.models import Dose, Person, Site, User
from staff.selectors.access import LEAD, LIAISON, OFFICER, sites_as

ASK_CLINICIAN = frozenset({CategoryReason.NEEDLESTICK_ASK_CLINICIAN, CategoryReason.BAT_NEAR_ASK_CLINICIAN})
CONTACT_KINDS = (Kind.BITE, Kind.SCRATCH, Kind.LICK, Kind.SPLASH, Kind.OTHER)


def incidents_visible_to(user: User) -> QuerySet[Incident]:
    """Own incidents, and those of the sites as officer or liaison. A crew lead sees only that a report arrived."""
    return (
        Incident.objects.filter(Q(person__user=user) | Q(site__in=sites_as(user, OFFICER, LIAISON)))
        .select_related("site__rules", "person__user", "outing", "reported_by", "reported_through__person")
        .prefetch_related("wounds", "wash_spells", "referrals__clinic", "visits__clinic")
        .distinct()
    )


def incidents_followed_by(user: User) -> QuerySet[Incident]:
    """Cases `user` may add the clinic's side to: officer or liaison of the site."""
    return incidents_visible_to(user).filter(site__in=sites_as(user, OFFICER, LIAISON))


def incidents_listed_for(user: User) -> QuerySet[Incident]:
    """Cases of the sites as officer or liaison, with everything their needs are derived from."""
    return incidents_followed_by(user).prefetch_related(
        "courses__planned_doses",
        "courses__regimen__steps",
        "person__titres",
        "observations__checks",
        "observations__outcomes",
    )


def incidents_of_same_day(user: User, incident: Incident) -> list[Incident]:
    """Other open cases of the person that `user` may see, of the same day at the site."""
    day = incident.site.local_date(incident.happened_at)
    others = incidents_visible_to(user).filter(person=incident.person, closed_at__isnull=True)
    return [one for one in others.exclude(pk=incident.pk) if one.site.local_date(one.happened_at) == day]


def _reported_by(user: User) -> Q:
    """Reported with the account, or by the phone link of its holder."""
    return Q(reported_by=user) | Q(reported_through__person__user=user)


def incidents_washed_by(user: User) -> QuerySet[Incident]:
    """Where `user` may run the wash clock: cases they see, and those they reported as crew lead of the site."""
    led = Incident.objects.filter(_reported_by(user), site__in=sites_as(user, LEAD))
    return (
        Incident.objects.filter(
            Q(pk__in=incidents_visible_to(user).values("pk")) | Q(pk__in=led.values("pk"))
        )
        .select_related("site__rules", "person__user")
        .prefetch_related("wash_spells")
    )


def incidents_to_return_to(user: User, now: datetime) -> QuerySet[Incident]:
    """Open cases of one's own, and for a day those one reported as crew lead: the way back to the wash clock."""
    since = now - timedelta(days=1)
    led = _reported_by(user) & Q(site__in=sites_as(user, LEAD), reported_at__gt=since)
    return (
        Incident.objects.filter(Q(person__user=user) | led, closed_at__isnull=True)
        .select_related("site", "person")
        .order_by("-happened_at", "-pk")
    )


def courses_followed_by(user: User) -> QuerySet[Course]:
    return Course.objects.filter(incident__site__in=sites_as(user, OFFICER, LIAISON)).select_related(
        "incident__site__rules", "incident__person", "person__user", "regimen", "clinic"
    )


def reportable_people(user: User) -> QuerySet[Person]:
    """Whom `user` may report for: oneself; as officer, liaison or lead also the people of the site."""
    return (
        Person.objects.filter(Q(user=user) | Q(site__in=sites_as(user, OFFICER, LIAISON, LEAD)))
        .select_related("site__rules", "user")
        .distinct()
    )


def suggestion_of(incident: Incident) -> Suggestion:
    """The suggested exposure category; the clinician decides."""
    return suggest_category(
        contacts=[wound.as_fact() for wound in incident.wounds.all()], species=incident.animal
    )


def needs_clinic(incident: Incident) -> bool:
    """Category II or III, contact nobody can rule out, or a needlestick, which only a clinician can judge.

    A needle that was in a dog may carry its blood and saliva as well as the vaccine, and stands in no exposure table:
    held, told and referred the same day like contact nobody knows. Common practice, no source.
    """
    return exposure_possible(incident.kind, suggestion_of(incident))


def exposure_possible(kind: str, suggestion: Suggestion) -> bool:
    """The same of an incident of that kind for which that category is suggested."""
    if kind == Kind.NEEDLESTICK or ASK_CLINICIAN.intersection(suggestion.reasons):
        return True
    if suggestion.category is not None:
        return suggestion.category > Category.I
    return CategoryReason.NOT_RECORDED in suggestion.reasons and kind in CONTACT_KINDS


def washing_of(incident: Incident, now: datetime) -> WashSummary:
    return wash_summary(
        spells=[spell.as_fact() for spell in incident.wash_spells.all()],
        stated_not_washed=incident.not_washed,
        target_minutes=incident.site.rules.wash_minutes,
        now=now,
    )


def doses_of(course: Course) -> QuerySet[Dose]:
    """The doses that stand."""
    return Dose.objects.filter(course_key=course.key).order_by("given_on", "id")


def every_dose_in(course: Course) -> QuerySet[Dose]:
    """Voided ones too: what the planner follows and the case shows."""
    return Dose.everything.filter(course_key=course.key).order_by("given_on", "id")


def _count(rows: QuerySet[Dose] | QuerySet[CourseFact], by: str) -> Coalesce:
    counted = rows.order_by().values(by).annotate(rows=Count("pk")).values("rows")
    return Coalesce(Subquery(counted, output_field=IntegerField()), 0)


def courses_behind() -> QuerySet[Course]:
    """Courses whose planned doses don't follow from the record yet."""
    doses = Dose.everything.filter(course_key=OuterRef("key"))
    told = CourseFact.objects.filter(course=OuterRef("pk"))
    return (
        Course.objects.annotate(
            recorded=_count(doses, "course_key"),
            voided=_count(doses.filter(voided_at__isnull=False), "course_key"),
            told=_count(told, "course"),
        )
        .filter(
            Q(planned_recorded__isnull=True)
            | ~Q(planned_recorded=F("recorded"))
            | ~Q(planned_voided=F("voided"))
            | ~Q(planned_facts=F("told"))
        )
        .order_by("pk")
    )


def courses_running() -> QuerySet[Course]:
    return Course.objects.filter(ended_on__isnull=True).select_related(
        "incident__site__rules", "incident__person__user", "person__user"
    )


def doses_due(sites: QuerySet[Site]) -> QuerySet[PlannedDose]:
    """Planned doses of running courses at `sites` that aren't given, soonest first."""
    return (
        PlannedDose.objects.filter(
            course__incident__site__in=sites, course__ended_on__isnull=True, given_on__isnull=True
        )
        .select_related("course__incident__site", "course__person", "course__regimen")
        .order_by("due_on", "course_id", "number")
    )
