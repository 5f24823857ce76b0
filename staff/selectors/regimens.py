"""Reading the regimen table."""

from __future__ import annotations

from dataclasses import replace

from django.db.models import QuerySet

from staff.models import Purpose, Regimen, Site
from staff.rules import values


def regimens_all() -> QuerySet[Regimen]:
    return Regimen.objects.prefetch_related("steps", "approvals__site")


def regimen_latest(code: str) -> Regimen | None:
    """The newest version of a code."""
    return regimens_all().filter(code=code).order_by("-version").first()


def regimen_version(code: str, version: int | None = None) -> Regimen | None:
    """One version; without a number the newest that some authority has approved, else the newest."""
    rows = list(regimens_all().filter(code=code).order_by("-version"))
    if version is not None:
        return next((row for row in rows if row.version == version), None)
    approved = (row for row in rows if any(each.withdrawn_at is None for each in row.approvals.all()))
    return next(approved, rows[0] if rows else None)


def approved_at(site: Site, *purposes: Purpose) -> QuerySet[Regimen]:
    """Versions the site's authority has approved and not withdrawn."""
    return regimens_all().filter(
        approvals__site=site, approvals__withdrawn_at__isnull=True, purpose__in=purposes
    )


def versioned_rule(regimen: Regimen) -> values.Regimen:
    """The rule value under the name doses carry: code@version, so that two versions never mix."""
    return replace(regimen.as_rule(), code=f"{regimen.code}@{regimen.version}")


def post_exposure_rules() -> list[values.Regimen]:
    """Every post-exposure version: a documented course counts under the version it was given by."""
    rows = regimens_all().filter(purpose__in=[Purpose.POST_EXPOSURE, Purpose.POST_EXPOSURE_IMMUNISED])
    return [versioned_rule(row) for row in rows]


def pre_exposure_rules(site: Site) -> list[values.Regimen]:
    """The approved ones under the names doses carry, so that a regimen named on a dose is found again."""
    return [versioned_rule(row) for row in approved_at(site, Purpose.PRE_EXPOSURE)]
