"""Who is on which crew, for queries that start from people or outings: standing assignments alone."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from staff.models import Assignment, Outing, Person


def people_on(**which: Any) -> QuerySet[Person]:
    """People with a standing assignment; `which` are its columns, e.g. `outing=` or `crew=`."""
    return Person.objects.filter(pk__in=Assignment.objects.filter(**which).values("person"))


def outings_of(**which: Any) -> QuerySet[Outing]:
    """Outings with a standing assignment, e.g. `person=`."""
    return Outing.objects.filter(pk__in=Assignment.objects.filter(**which).values("outing"))
