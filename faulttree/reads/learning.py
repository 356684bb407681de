"""Shared values and what experience makes of them, for the records that count it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib.auth.models import User

from config.kit.errors import BadInput
from faulttree.assembly import read_current
from faulttree.charts.updating import draw_update
from faulttree.engine.budget import Budget
from faulttree.engine.errors import BadModel, LimitReached
from faulttree.engine.exchange.json_values import ValueReader, write_expression
from faulttree.engine.learning.priors import (
    PROBABILITY,
    RATE,
    Prior,
    beta_prior,
    constrained_prior,
    gamma_prior,
    jeffreys_prior,
    lognormal_prior,
    prior_from_expression,
)
from faulttree.engine.learning.through_tree import Inference, infer_through_tree
from faulttree.engine.learning.update import Experience, Updated, binomial, poisson, update
from faulttree.engine.problems import Problems
from faulttree.models import DataSet, SharedItem, SharedValue, TreeRevision
from faulttree.reads.movement import Moved, find_movement
from faulttree.reads.shared import say_value
from faulttree.services.library import Sent, as_value, change_value

SECONDS, NODES, MEMORY_MIB = 8.0, 2_000_000, 1024
NO_PRIOR = (
    "The library's value is no gamma, beta or lognormal distribution and no number above 0, so it can't be a prior by "
    "itself. Choose a Jeffreys prior, or give the prior by hand."
)
PER_HOUR = ("", "hours-1")


@dataclass(frozen=True, slots=True)
class SharedNow:
    """An item of the library as it is now; `seen` is the number of the data set that its value belongs to."""

    item_id: int
    kind: str
    name: str
    label: str
    unit: str
    words: str
    source: str
    seen: int
    expression: Any

    @property
    def title(self) -> str:
        """What pages call it."""
        return self.label or self.name


def list_shared() -> Any:
    """Return the items of the library, for a choice in a form."""
    return SharedItem.objects.order_by("kind", "name")


def read_shared(item_id: int) -> SharedNow:
    """Return an item with its newest value; raises SharedItem.DoesNotExist."""
    item = SharedItem.objects.get(pk=item_id)
    value = item.values.select_related("data_set")[:1].get()
    source = f"{value.get_source_kind_display()}: {value.source or value.data_set.note}"
    said = say_value(value.expression)
    return SharedNow(
        item.pk, item.kind, item.name, value.label, value.unit, said, source, value.data_set.number, value.expression
    )


def find_quantity(measure: str) -> str:
    """Return what exposure of a measure informs: hours a rate per hour, all else a probability per time."""
    return RATE if measure == "hours" else PROBABILITY


def check_unit(shared: SharedNow, measure: str) -> None:
    """Raise BadInput where exposure in this measure doesn't inform a value of this unit."""
    if find_quantity(measure) == RATE and (shared.kind != "parameter" or shared.unit not in PER_HOUR):
        message = f"{shared.name} isn't a rate per hour, so hours of use say nothing of it. Choose a rate per hour."
        raise BadInput(message, code="wrong_unit", fields={"item_id": [message]})
    if find_quantity(measure) == PROBABILITY and shared.unit:
        message = f"{shared.name} has the unit {shared.unit}; {measure} inform a probability, which has none."
        raise BadInput(message, code="wrong_unit", fields={"item_id": [message]})


def make_prior(shared: SharedNow, quantity: str, choice: str, numbers: dict[str, float | None]) -> Prior:
    """Return the prior of a choice: "library", "jeffreys", "constrained", "gamma", "beta", "lognormal".

    numbers : a, b (gamma: shape, rate; beta), mean, median, error_factor, as the choice needs them. Raises BadInput.
    """
    try:
        if choice == "library":
            prior = prior_from_expression(_read(shared.expression), quantity)
            if prior is None:
                raise BadInput(NO_PRIOR, code="no_prior", fields={"prior": [NO_PRIOR]})
            return prior
        if choice == "jeffreys":
            return jeffreys_prior(quantity)
        if choice == "constrained":
            return constrained_prior(quantity, _need(numbers, "mean"))
        if choice == "gamma":
            return gamma_prior(_need(numbers, "a"), _need(numbers, "b"))
        if choice == "beta":
            return beta_prior(_need(numbers, "a"), _need(numbers, "b"))
        if choice == "lognormal":
            return lognormal_prior(mean=_need(numbers, "mean"), error_factor=_need(numbers, "error_factor"))
    except BadModel as error:
        raise BadInput(str(error), code="bad_prior", fields={"prior": [str(error)]}) from None
    message = "Choose a prior."
    raise BadInput(message, code="no_prior", fields={"prior": [message]})


def make_update(prior: Prior, quantity: str, count: int, amount: float) -> Updated:
    """Return prior and experience together; raises BadInput."""
    try:
        data = poisson(count, amount) if quantity == RATE else binomial(count, amount)
        return update(prior, data)
    except (BadModel, ArithmeticError, ValueError) as error:
        raise BadInput(str(error), code="bad_data", fields={"data": [str(error)]}) from None


def write_update(updated: Updated) -> tuple[dict[str, Any], dict[str, Any], dict[str, Any], Any]:
    """Return prior, data, posterior and the new value, as JSON can hold them."""
    prior, data = updated.prior, updated.data
    before = {"law": prior.law, "a": prior.a, "b": prior.b, "words": prior.words, "proper": prior.proper}
    seen = {"kind": data.kind, "count": data.count, "amount": data.amount}
    after: dict[str, Any] = {"law": updated.law, "mean": updated.mean}
    after |= {"p05": updated.p05, "p50": updated.p50, "p95": updated.p95}
    if updated.law != "grid":
        after |= {"a": updated.a, "b": updated.b}
    if updated.kept:
        after["kept"] = list(updated.kept)
    return before, seen, after, _round(write_expression(updated.expression))


def read_update(prior: dict[str, Any], data: dict[str, Any]) -> Updated:
    """Return what `write_update` wrote, computed anew from prior and data."""
    held = Prior(prior["law"], prior["a"], prior["b"], prior["words"], prior["proper"])
    return update(held, Experience(data["kind"], int(data["count"]), float(data["amount"])))


def draw_learnt(updated: Updated, name: str) -> str:
    """Return the picture of an update, as SVG."""
    return draw_update(updated, name)


def find_moved(item_id: int, expression: Any) -> list[Moved]:
    """Return every tree that another value of an item would move, with its top events before and after."""
    shared = read_shared(item_id)
    sent = Sent(expression, SharedValue.Source.SERVICE, "", shared.label, shared.unit)
    value = as_value(shared.kind, shared.name, sent)
    return find_movement({value.key: value})


def take_value(*, actor: User, item_id: int, expression: Any, source: str, note: str, seen: int) -> DataSet:
    """The item has the value from a new data set on, with service experience as its source; Conflict if it's stale."""
    shared = read_shared(item_id)
    sent = Sent(expression, SharedValue.Source.SERVICE, source, shared.label, shared.unit)
    return change_value(actor=actor, item_id=item_id, sent=sent, seen=seen, note=note)


def say_expression(expression: Any) -> str:
    """Say a value in words."""
    return say_value(expression)


def learn_through(
    revision: TreeRevision, gate: str, count: int, demands: int, mission_time: float | None, samples: int
) -> Inference:
    """Return what occurrences of a gate say of the parameters below it; raises BadInput."""
    budget = Budget(nodes=NODES, seconds=SECONDS, memory_mib=MEMORY_MIB)
    try:
        return infer_through_tree(
            read_current(revision), gate, count, demands, mission_time=mission_time, samples=samples, budget=budget
        )
    except (BadModel, LimitReached) as error:
        raise BadInput(str(error), code="not_learnt", fields={"gate": [str(error)]}) from None


def _round(plain: Any) -> Any:
    """Keep six digits of each number: more would say what nobody knows."""
    if isinstance(plain, dict):
        return {name: _round(each) for name, each in plain.items()}
    if isinstance(plain, list):
        return [_round(each) for each in plain]
    return float(f"{plain:.6g}") if isinstance(plain, float) else plain


def _read(expression: Any) -> Any:
    problems = Problems("")
    found = ValueReader(problems).expression(expression, "value")
    problems.raise_any()
    return found


def _need(numbers: dict[str, float | None], name: str) -> float:
    value = numbers.get(name)
    if value is None:
        words = name.replace("_", " ")
        message = f"This prior needs its {words}."
        raise BadInput(message, code="missing_number", fields={name: [message]})
    return value
