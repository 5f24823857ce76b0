from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone

from safety.demo.accounts import ACCOUNTS
from safety.demo.campaign import let_routes_mix, make_campaign
from safety.demo.cases import make_cases
from safety.demo.field_days import make_outings
from safety.demo.programme import HISTORIES, make_people, make_sites, make_user
from safety.services.course.plan import plans_catch_up
from staff.models import Person, Site, SiteRole

__all__ = ["ACCOUNTS", "Command"]


class Command(BaseCommand):
    help = "Load an invented programme around today into an empty demo database."

    def handle(self, *_args: Any, **_options: Any) -> None:
        if not settings.DEMO:
            raise CommandError(
                "This is no demo (DEMO=0): the demo accounts must not exist here. Set DEMO=1 to try it out."
            )
        if Site.objects.exists():
            raise CommandError("The database holds sites already; the demo only goes into an empty one.")
        with transaction.atomic():
            self._load()

    def _load(self) -> None:
        now = timezone.now()
        make_user("admin", "Demo Administrator", is_staff=True, is_superuser=True)
        officer, stranger = make_user("officer", "Oda Officer"), make_user("stranger", "Sten Stranger")
        deputy, liaison, lead, member = (
            make_user("deputy", "Dani Deputy"),
            make_user("liaison", "Lio Liaison"),
            make_user("lead", "Lena Lead"),
            make_user("member", "Mika Member"),
        )
        sites = make_sites(officer, stranger, now)
        home = sites[0]
        let_routes_mix(home, officer, now)
        SiteRole.objects.create(user=deputy, site=home, role=SiteRole.Role.OFFICER)
        SiteRole.objects.create(user=liaison, site=home, role=SiteRole.Role.LIAISON)
        SiteRole.objects.create(user=lead, site=home, role=SiteRole.Role.LEAD)
        for site in sites:
            owner = stranger if site is sites[-1] else officer
            people = make_people(site, owner, now)
            own = self._sign_in_as(people, lead, member) if site is home else []
            make_outings(site, owner, now, own)
            if site is home:
                # The complete ones behind one of each history, and who has no dose.
                complete = [person for person in people[len(HISTORIES) :] if person not in own]
                undosed = [person for person in people if not person.doses.exists()]
                on_course = make_cases(site, [*complete, *undosed], officer, liaison, now)
                make_campaign(site, [p for p in people if p not in on_course], officer, now)
        plans_catch_up(now=now)
        self.stdout.write(f"Demo loaded: {len(sites)} sites, {Person.objects.count()} people.")

    @staticmethod
    def _sign_in_as(people: list[Person], lead: Any, member: Any) -> list[Person]:
        """The lead's and the member's own records: two complete people who hold the crew roles they need."""
        own = []
        for user, role, start in ((lead, "lead", 17), (member, "catcher", 17)):
            person = next(
                p
                for p in people[start:]
                if p not in own and role in {held.role for held in p.crew_roles.all()}
            )
            person.user, person.name, person.email = user, user.get_full_name(), user.email
            person.save()
            own.append(person)
        return own
