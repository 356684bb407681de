"""The number of an anomaly's fault tree as things are: with what verified actions do to it."""

from __future__ import annotations

from dataclasses import dataclass

from anomalies.models import Anomaly, Investigation
from anomalies.reads.effects import Plan, read_plan
from anomalies.reads.readiness.work import SETTLED
from config.kit.errors import DomainError
from config.kit.figures import write_plain
from faulttree.facade import Figure, read_benefit


@dataclass(frozen=True, slots=True)
class TreeFigure:
    """Top-event probability, the range between its 5 % and 95 % quantile where one was sampled, and how it was got.

    `value` is None where the tree gives no number; `method` then says why.
    """

    investigation: Investigation
    value: float | None
    low: float | None
    high: float | None
    method: str

    @property
    def text(self) -> str:
        """Value, range and method, as a sentence."""
        if self.value is None:
            return self.method
        span = ""
        if self.low is not None and self.high is not None:
            span = f" ({write_plain(self.low)} to {write_plain(self.high)})"
        return f"{write_plain(self.value)}{span}. {self.method}"


def find_figure(anomaly: Anomaly | None) -> TreeFigure | None:
    """Return the figure, or why there is none; None where the anomaly has no investigation by fault tree."""
    investigation = Investigation.objects.filter(anomaly=anomaly).select_related("revision__tree", "anomaly").first()
    if anomaly is None or investigation is None:
        return None
    try:
        plan = read_plan(investigation)
        done = {each.number for each in plan.actions if each.state in SETTLED}
        weighed = read_benefit(
            investigation.revision,
            investigation.top,
            investigation.mission_time,
            tuple(option for option in plan.options if option.key in done),
            tuple(effect for effect in plan.effects if effect.option in done),
        )
    except DomainError as error:
        return TreeFigure(investigation, None, None, None, f"The fault tree gives no number: {error.message}")
    figure = weighed.together if done else weighed.before
    if figure is None:
        text = "The fault tree gives no number: the stated effects of verified actions can't hold together."
        return TreeFigure(investigation, None, None, None, text)
    method = _say_method(investigation, plan, sorted(done), figure)
    return TreeFigure(investigation, figure.probability, figure.p05, figure.p95, method)


def _say_method(investigation: Investigation, plan: Plan, done: list[str], figure: Figure) -> str:
    tree = f"tree {investigation.revision.tree}, revision {investigation.revision.number}"
    acts = f"with the stated effects of {', '.join(done)}" if done else "without the effect of any action"
    held = f"; {', '.join(sorted(plan.included))} are part of that tree" if plan.included else ""
    how = "exact with uncertain parameters at their mean"
    if figure.p05 is not None:
        how += "; the range is from the 5 % to the 95 % quantile, by sampling"
    return f"Top event {investigation.top} of {tree}, {acts}{held}; {how}."
