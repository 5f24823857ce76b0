"""A change of route within one series, at a site that accepts it."""

from collections.abc import Iterable

from staff.rules.record.series import NO_OTHER_ROUTE, OtherRoutes
from staff.rules.regimen.values import Regimen, Route


def accepted_routes(regimen: Regimen, approved: Iterable[Regimen], *, mixed: bool) -> OtherRoutes:
    """What `evaluate_series` takes as `other_routes` at a site that accepts mixed routes, or doesn't."""
    return other_routes(regimen, approved) if mixed else NO_OTHER_ROUTE


def other_routes(regimen: Regimen, approved: Iterable[Regimen]) -> OtherRoutes:
    """The routes that may stand in for those of `regimen`, with the injections each asks at each step.

    A route changed midway is acceptable when it can't be avoided (memory of WHO 2018). Decided here, on the side
    of caution: another route stands in only when an approved regimen of that route and purpose has as many
    visits, and a visit then needs the injections of that regimen, the most of them where there are several. The
    gaps stay those of `regimen`.
    """
    asked: dict[Route, tuple[int, ...]] = {}
    for other in approved:
        if other.purpose is not regimen.purpose or len(other.steps) != len(regimen.steps):
            continue
        steps = tuple(step.injections for step in other.steps)
        for route in other.routes - regimen.routes:
            asked[route] = tuple(map(max, steps, asked.get(route, steps)))
    return asked
