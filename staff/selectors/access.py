"""Who sees what. A view gets an object from here and nowhere else."""

from __future__ import annotations

from django.contrib.auth.models import AnonymousUser
from django.db.models import Q, QuerySet

from staff.ground import roles
from staff.models import Campaign, Outing, Person, Session, Site, SiteRole, User
from staff.selectors.outing.on_crews import outings_of

Role = SiteRole.Role
OFFICER, LIAISON, LEAD = Role.OFFICER, Role.LIAISON, Role.LEAD


def sites_as(user: User, *roles: SiteRole.Role) -> QuerySet[Site]:
    """Sites at which `user` holds one of `roles`."""
    return Site.objects.filter(
        pk__in=SiteRole.objects.filter(user=user, role__in=roles).values("site")
    ).select_related("rules")


def roles_of(user: User | AnonymousUser) -> frozenset[str]:
    """Roles held at any site, with that of a member for somebody who is on a team."""
    if not user.is_authenticated:
        return frozenset()
    held = set(SiteRole.objects.filter(user=user).values_list("role", flat=True))
    if Person.objects.filter(user=user).exists():
        held.add(roles.Role.MEMBER.value)
    return frozenset(held)


def has_role(user: User, site: Site, *roles: SiteRole.Role) -> bool:
    return SiteRole.objects.filter(user=user, site=site, role__in=roles).exists()


def sites_of(user: User) -> QuerySet[Site]:
    """Sites at which `user` holds any role or is on the team."""
    held = SiteRole.objects.filter(user=user).values("site")
    return Site.objects.filter(Q(pk__in=held) | Q(people__user=user)).select_related("rules").distinct()


def own_person(user: User) -> Person | None:
    return Person.objects.select_related("site__rules").filter(user=user).first()


def people_named_to(user: User) -> QuerySet[Person]:
    """People whose name, and whether they are clear, `user` may see: a crew lead's too, without the reasons."""
    return Person.objects.filter(Q(user=user) | Q(site__in=sites_as(user, OFFICER, LIAISON, LEAD)))


def records_visible_to(user: User) -> QuerySet[Person]:
    """People whose health record `user` may read: own, and those of sites as officer or liaison."""
    return (
        Person.objects.filter(Q(user=user) | Q(site__in=sites_as(user, OFFICER, LIAISON)))
        .select_related("site__rules", "user")
        .distinct()
    )


def records_kept_by(user: User) -> QuerySet[Person]:
    """People whose record `user` may add to: officer or liaison of the site, never one's own place as a member."""
    return Person.objects.filter(site__in=sites_as(user, OFFICER, LIAISON)).select_related(
        "site__rules", "user"
    )


def people_managed_by(user: User) -> QuerySet[Person]:
    return Person.objects.filter(site__in=sites_as(user, OFFICER)).select_related("site__rules", "user")


def wishes_open_to(user: User) -> QuerySet[Person]:
    """People whose days off `user` may see and note: oneself, and those of sites as officer."""
    return (
        Person.objects.filter(Q(user=user) | Q(site__in=sites_as(user, OFFICER)))
        .select_related("site__rules", "user")
        .distinct()
    )


def outings_visible_to(user: User) -> QuerySet[Outing]:
    """Outings of the sites as officer, liaison or lead, and those one is on."""
    return (
        Outing.objects.filter(
            Q(site__in=sites_as(user, OFFICER, LIAISON, LEAD)) | Q(pk__in=outings_of(person__user=user))
        )
        .select_related("site__rules")
        .distinct()
    )


def outings_managed_by(user: User) -> QuerySet[Outing]:
    return Outing.objects.filter(site__in=sites_as(user, OFFICER)).select_related("site__rules")


def campaigns_visible_to(user: User) -> QuerySet[Campaign]:
    """Campaigns of the sites as officer or liaison: their lists show who lacks which dose."""
    return Campaign.objects.filter(site__in=sites_as(user, OFFICER, LIAISON)).select_related(
        "site__rules", "regimen"
    )


def campaigns_managed_by(user: User) -> QuerySet[Campaign]:
    return campaigns_visible_to(user).filter(site__in=sites_as(user, OFFICER))


def sessions_kept_by(user: User) -> QuerySet[Session]:
    """Vaccination sessions whose list `user` may read and fill in: officer or liaison of the site."""
    return Session.objects.filter(site__in=sites_as(user, OFFICER, LIAISON)).select_related(
        "site__rules", "campaign__regimen"
    )
