"""How long the animal is watched."""

from datetime import date, timedelta

from staff.rules.values import RuleError


def observation_ends_on(started_on: date, days: int) -> date:
    """The last day of observation: the exposure is day 0, so ten days end on day 10 (dogs and cats, WHO 2018).

    `days` is the site's setting (10, in one country 14). Raises RuleError when it is under 1.
    """
    if days < 1:
        raise RuleError("days", "Observation lasts one day or more.", "too-small")
    return started_on + timedelta(days=days)
