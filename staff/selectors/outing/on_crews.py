"""Who is on which crew, for queries that start from people or outings: standing assignments alone."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from staff.models import Assignment, Outing, Person


def people_on(**which: Any) -> QuerySet[Person]:
    """People with a standing assignment; `which` are its columns, e.g. `outing=` or `crew=`."""
    return Person.objects.filter(pk__in=Assignment.objects.filter(**which).values("person"))


def outings_of(**which: Any) -> QuerySet[Outing]:
    """Outings with a standing assignment, e.g. `person=`."""
    return Outing.objects.filter(pk__in=Assignment.objects.filter(**which).values("outing"))


def outing_of(person: Person, at: datetime) -> Outing | None:
    """The outing the person was on at that instant's date, if there was just one."""
    found = outings_of(person=person).filter(date=person.site.local_date(at), cancelled_at__isnull=True)[:2]
    return found[0] if len(found) == 1 else None
