"""The number of an anomaly's fault tree as things are: with what verified actions do to it."""

from __future__ import annotations

from dataclasses import dataclass

from anomalies.models import Anomaly, Investigation
from anomalies.reads.effects import read_plan
from anomalies.states import ActionState
from config.kit.errors import DomainError
from faulttree.facade import read_benefit

VERIFIED = (ActionState.VERIFIED, ActionState.EFFECTIVE)


@dataclass(frozen=True, slots=True)
class TreeFigure:
    """Top-event probability, the range between its 5 % and 95 % quantile where one was sampled, and how it was got."""

    value: float
    low: float | None
    high: float | None
    method: str


def find_figure(anomaly: Anomaly | None) -> TreeFigure | None:
    """Return the figure; None where the anomaly has no investigation, or its tree gives no number."""
    investigation = Investigation.objects.filter(anomaly=anomaly).select_related("revision__tree").first()
    if anomaly is None or investigation is None:
        return None
    try:
        plan = read_plan(investigation)
        done = {each.number for each in plan.actions if each.state in VERIFIED}
        weighed = read_benefit(
            investigation.revision,
            investigation.top,
            investigation.mission_time,
            tuple(option for option in plan.options if option.key in done),
            tuple(effect for effect in plan.effects if effect.option in done),
        )
    except DomainError:
        return None
    figure = weighed.together if done and weighed.together else weighed.before
    return TreeFigure(figure.probability, figure.p05, figure.p95, _say_method(investigation, sorted(done)))


def _say_method(investigation: Investigation, done: list[str]) -> str:
    tree = f"tree {investigation.revision.tree}, revision {investigation.revision.number}"
    acts = f"with the stated effects of {', '.join(done)}" if done else "with no action in effect"
    how = "exact with uncertain parameters at their mean; the range is from the 5 % to the 95 % quantile by sampling"
    return f"Top event {investigation.top} of {tree}, {acts}; {how}."
