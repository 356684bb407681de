"""The page of benefit: what every action brings, what all bring together, and the best set within limits."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from anomalies.models import Baseline, CorrectiveAction, Investigation
from anomalies.reads.effects import Plan, describe_effect, list_labels, read_plan
from config.kit.errors import DomainError
from faulttree.facade import Choice, Figure, Limits, Weighed, draw_waterfall, read_benefit, read_choice


@dataclass(frozen=True, slots=True)
class ActionRow:
    """An action with its effects in words; figures are None where they can't be had.

    left : share of the probability before that is left with it alone
    worth : how much more probable the top event would be without it, all others in place; negative where less
    """

    action: CorrectiveAction
    effects: list[str]
    alone: Figure | None = None
    left: float | None = None
    worth: float | None = None


@dataclass
class BenefitView:
    """Everything on the page. `stopped` says why there are no figures, `no_choice` why there is no set."""

    investigation: Investigation
    plan: Plan
    rows: list[ActionRow]
    weighed: Weighed | None
    stopped: str
    chart: str
    baselines: list[Baseline]
    top: str
    choice: Choice | None = None
    chosen: list[CorrectiveAction] | None = None
    no_choice: str = ""

    @property
    def reduction(self) -> float | None:
        """By how much all together reduce the probability, as a share of it."""
        weighed = self.weighed
        if weighed is None or weighed.together is None or weighed.before.probability <= 0.0:
            return None
        return 1.0 - weighed.together.probability / weighed.before.probability

    @property
    def overlap(self) -> str:
        """What is to be said of how the actions act together; empty where there's nothing to say."""
        found = self.weighed.interaction if self.weighed else None
        if found is None or found.summed <= 0.0:
            return ""
        ratio = found.recomputed / found.summed
        if ratio < 0.995:
            return "less"
        return "more" if ratio > 1.005 else "same"

    @property
    def has_ranges(self) -> bool:
        """Whether parameters of the tree are uncertain."""
        return self.weighed is not None and self.weighed.is_uncertain


def read_benefit_page(investigation: Investigation) -> BenefitView:
    """Return the page without a choice; raises BadAssembly for a tree that can't be put together."""
    plan = read_plan(investigation)
    weighed, stopped = None, ""
    try:
        weighed = read_benefit(
            investigation.revision, investigation.top, investigation.mission_time, plan.options, plan.effects
        )
    except DomainError as error:
        stopped = error.message
    labels = list_labels(investigation)
    names = {each.number: f"{each.number} {each.title}" for each in plan.actions}
    return BenefitView(
        investigation,
        plan,
        [_write_row(each, plan, weighed, labels) for each in plan.actions],
        weighed,
        stopped,
        draw_waterfall(weighed, names) if weighed else "",
        list(investigation.baselines.select_related("revision__tree", "taken_by").defer("revision__source")),
        labels.get(investigation.top) or investigation.top,
    )


def choose_within(view: BenefitView, limits: Limits, must: Collection[str]) -> None:
    """Put the best set within the limits on the page, or why there is none."""
    plan, investigation = view.plan, view.investigation
    try:
        view.choice = read_choice(
            investigation.revision,
            investigation.top,
            investigation.mission_time,
            plan.options,
            plan.effects,
            limits,
            must=tuple(must),
            excludes=plan.excludes,
            needs=plan.needs,
        )
    except DomainError as error:
        view.no_choice = error.message
        return
    view.chosen = [each for each in plan.actions if each.number in view.choice.chosen]


def _write_row(action: CorrectiveAction, plan: Plan, weighed: Weighed | None, labels: Mapping[str, str]) -> ActionRow:
    effects = [describe_effect(row, labels) for row in plan.rows if row.action_id == action.pk]
    if weighed is None:
        return ActionRow(action, effects)
    alone, without = weighed.alone[action.number], weighed.without[action.number]
    before, together = weighed.before.probability, weighed.together
    return ActionRow(
        action,
        effects,
        alone,
        alone.probability / before if before > 0.0 else None,
        without.probability - together.probability if without and together else None,
    )
