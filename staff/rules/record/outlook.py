"""What would make somebody clear, and when at the earliest; the last days on which each missing thing still helps."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from staff.ground.dates import add_days
from staff.ground.purposes import Purpose
from staff.rules.record.clearance import Clearance, evaluate_clearance
from staff.rules.record.facts import ADEQUATE_TITRE, BriefingFact, ClearanceRules, PersonFacts, TitreFact
from staff.rules.record.immunity import find_completions, qualifying_regimens, series_routes
from staff.rules.record.missing import Action, ActionKind, last_days, missing_doses
from staff.rules.record.reasons import Reason, ReasonCode
from staff.rules.regimen.values import DoseFact, Regimen, Route

_SERIES = {ReasonCode.NO_DOSES, ReasonCode.SERIES_INCOMPLETE, ReasonCode.TOO_FEW_DOSES}
_LETTER = "letter-needed"
# Every turn either adds what one reason asks for or moves the day on; a record that needs more is left to a person.
_TURNS = 24


@dataclass(frozen=True)
class Way:
    """`clear_on` is the first clear date the actions can bring, None when a person must decide first."""

    clear_on: date | None
    actions: tuple[Action, ...]

    @property
    def doses(self) -> tuple[Action, ...]:
        return tuple(action for action in self.actions if action.kind is ActionKind.DOSE)

    @property
    def decisions(self) -> tuple[Action, ...]:
        return tuple(action for action in self.actions if action.kind is ActionKind.DECISION)


def earliest_clear(
    *,
    facts: PersonFacts,
    rules: ClearanceRules,
    pre_exposure: Sequence[Regimen],
    post_exposure: Sequence[Regimen],
    today: date,
    on: date,
    plan_by: Sequence[Regimen] | None = None,
    route: Route | None = None,
) -> Way:
    """The first date from `on` on which this person can be clear, and everything that must be done for it.

    Nothing can be done before `today`. Missing doses are taken as early as they count, by the regimen (of
    `plan_by`, without it any that qualifies) that is complete first; no other choice is sooner, for one more or
    one earlier valid dose never takes a clear date away (see evaluate_series). What only a person can decide
    (an open hold, a low titre, a clinician's letter, a regimen to approve, leaving the team) is named and never
    assumed. Doses of a post-exposure course are the clinician's: none is proposed.
    """
    search = _Search(facts, rules, pre_exposure, post_exposure, today, plan_by or pre_exposure, route)
    return search.run(max(on, today))


class _Search:
    def __init__(
        self,
        facts: PersonFacts,
        rules: ClearanceRules,
        pre_exposure: Sequence[Regimen],
        post_exposure: Sequence[Regimen],
        today: date,
        plan_by: Sequence[Regimen],
        route: Route | None,
    ) -> None:
        self.facts, self.rules, self.today, self.route = facts, rules, today, route
        self.pre_exposure, self.post_exposure, self.plan_by = pre_exposure, post_exposure, plan_by
        self.actions: dict[str, Action] = {}
        # The booster (or titre) and the briefing that are thought of: one of each, on the day last asked for.
        self.renewed_on: date | None = None
        self.briefed_on: date | None = None

    def run(self, day: date) -> Way:
        for _turn in range(_TURNS):
            judged = self._judge()
            unmet = [
                (condition.name, reason)
                for condition in judged.conditions
                for reason in condition.reasons_on(day)
            ]
            if letter := next((reason for _name, reason in unmet if reason.code == _LETTER), None):
                # For somebody immunocompromised the clinician decides, and nothing is proposed.
                return Way(None, (Action(ActionKind.DECISION, reason=letter),))
            decisions = [reason for _name, reason in unmet if reason.code not in _ANSWERED]
            moved = max([self._answer(name, reason, day) for name, reason in unmet], default=day)
            decided = not any(name.startswith("decision") for name in self.actions)
            if not unmet:
                # What was thought of may hide what a person must decide, as a booster does with a low titre.
                return self._way(day if decided else None, day)
            if moved == day and not decided:
                return self._way(None, day)
            if decisions and all(reason in decisions for _name, reason in unmet):
                return self._way(None, day)
            day = moved
        self._decide(unmet[0][1])
        return self._way(None, day)

    def _judge(self, *, by_titre: bool = False) -> Clearance:
        doses, titres, briefings = self.facts.doses, self.facts.titres, self.facts.briefings
        if self.renewed_on is not None and by_titre:
            titres = (*titres, TitreFact(self.renewed_on, ADEQUATE_TITRE))
        elif self.renewed_on is not None:
            doses = (*doses, DoseFact(self.renewed_on, purpose=Purpose.BOOSTER))
        if self.briefed_on is not None:
            briefings = (*briefings, BriefingFact(self.briefed_on))
        return evaluate_clearance(
            facts=replace(self.facts, doses=doses, titres=titres, briefings=briefings),
            rules=self.rules,
            pre_exposure=self.pre_exposure,
            post_exposure=self.post_exposure,
        )

    def _answer(self, condition: str, reason: Reason, day: date) -> date:
        """Do what the reason asks for, in thought; returns the first day worth asking about again."""
        answer = _ANSWERED.get(reason.code)
        # A letter that covers the day leaves every dose, booster and titre to the clinician all the same.
        medical = condition in ("series", "later-dose", "recheck")
        if answer is None or (medical and self.facts.immunocompromised):
            self._decide(reason)
            return day
        return answer(self, condition, reason, day)

    def _decide(self, reason: Reason) -> None:
        self.actions[f"decision {hash(reason)}"] = Action(ActionKind.DECISION, reason=reason)

    def series(self, _condition: str, reason: Reason, day: date) -> date:
        """Take every missing dose as early as it counts."""
        regimens = qualifying_regimens(self.plan_by, self.rules.doses_required)
        ways = [self._missing(one) for one in regimens]
        ways = [way for way in ways if way]
        if not ways or any(name.startswith("dose") for name in self.actions):
            # Nothing to plan by, or taken already and still not enough: somebody must look.
            self._decide(reason)
            return day
        best = min(ways, key=lambda way: (way[-1].earliest_on or date.max, way[-1].regimen or ""))
        taken = [
            self._as_fact(action.earliest_on, action.injections) for action in best if action.earliest_on
        ]
        self.facts = replace(self.facts, doses=(*self.facts.doses, *taken))
        self.actions |= {f"dose {action.number}": action for action in best}
        return max(day, add_days(taken[-1].given_on, self.rules.settling_days))

    def _missing(self, regimen: Regimen) -> tuple[Action, ...]:
        """The doses of `regimen` that are missing, and of these no more than clearance asks for.

        At a site that approved a shorter regimen too, the first of them may complete the series.
        """
        others = series_routes(regimen, self.pre_exposure, self.rules)
        missing = missing_doses(self.facts.doses, regimen, self.today, route=self.route, other_routes=others)
        taken = list(self.facts.doses)
        for number, action in enumerate(missing, start=1):
            taken.append(self._as_fact(action.earliest_on or self.today, action.injections))
            if self._complete(taken):
                return missing[:number]
        return missing

    def _complete(self, doses: Sequence[DoseFact]) -> bool:
        qualifying = qualifying_regimens(self.pre_exposure, self.rules.doses_required)
        found = find_completions(
            doses=doses, qualifying=qualifying, post_exposure=self.post_exposure, rules=self.rules
        )
        return bool(found)

    def _as_fact(self, day: date, injections: int) -> DoseFact:
        return DoseFact(given_on=day, route=self.route, injections=injections)

    def settle(self, _condition: str, reason: Reason, day: date) -> date:
        return _later(reason, "clear_from", day) or day

    def recheck(self, condition: str, reason: Reason, day: date) -> date:
        """A booster serves both a later dose and a re-check; a titre the re-check alone."""
        boost = condition == "later-dose" or ActionKind.BOOSTER in self.actions
        kind = ActionKind.BOOSTER if boost else ActionKind.RECHECK
        self.actions.pop(ActionKind.RECHECK, None)
        self.actions[kind] = Action(kind, self.today, day, reason=reason)
        self.renewed_on = day
        return day

    def brief(self, _condition: str, reason: Reason, day: date) -> date:
        self.actions[ActionKind.BRIEFING] = Action(ActionKind.BRIEFING, self.today, day, reason=reason)
        self.briefed_on = day
        return day

    def wait_for_release(self, _condition: str, reason: Reason, day: date) -> date:
        last = _later(reason, "ends_on", day)
        if last is None:
            self._decide(reason)
            return day
        return add_days(last, 1)

    def join(self, _condition: str, reason: Reason, day: date) -> date:
        first = _later(reason, "active_from", day)
        if first is None or first <= day:
            self._decide(reason)
            return day
        return first

    def _way(self, clear_on: date | None, day: date) -> Way:
        doses = [action for action in self.actions.values() if action.kind is ActionKind.DOSE]
        rest = [action for action in self.actions.values() if action.kind is not ActionKind.DOSE]
        dated = last_days(doses, add_days(day, -self.rules.settling_days))
        if clear_on is not None:
            rest = [self._lasting(action, day) for action in rest]
        order = list(ActionKind)
        return Way(clear_on, (*dated, *sorted(rest, key=lambda action: order.index(action.kind))))

    def _lasting(self, action: Action, day: date) -> Action:
        """The same with the first day from which what is done still holds on `day`, and `day` as the last."""
        name = "briefed_on" if action.kind is ActionKind.BRIEFING else "renewed_on"
        # Where one re-check is enough, a booster settles it sooner than a titre does: both have to hold.
        ways = (False, True) if action.kind is ActionKind.RECHECK else (False,)

        def holds(days_before: int) -> bool:
            setattr(self, name, add_days(day, -days_before))
            return all(self._judge(by_titre=way).covers(day) for way in ways)

        # The later it is done, the longer it lasts: the first day is found by halving.
        most = (day - self.today).days
        earliest_on = add_days(day, -bisect_right(range(most + 1), False, key=lambda n: not holds(n)) + 1)
        setattr(self, name, day)
        return replace(action, earliest_on=earliest_on, last_on=day)


def _later(reason: Reason, name: str, day: date) -> date | None:
    """The date a reason carries under `name`, when it lies on `day` or after it."""
    value = reason.params.get(name)
    return value if isinstance(value, date) and value >= day else None


_ANSWERED = {
    **dict.fromkeys(_SERIES, _Search.series),
    ReasonCode.SETTLING: _Search.settle,
    ReasonCode.RECHECK_DUE: _Search.recheck,
    ReasonCode.BRIEFING_MISSING: _Search.brief,
    ReasonCode.BRIEFING_LAPSED: _Search.brief,
    ReasonCode.HELD: _Search.wait_for_release,
    ReasonCode.NOT_ACTIVE: _Search.join,
}
