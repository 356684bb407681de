"""The cut-set and importance tables of an answer: filtered, sorted and cut into pages on the server."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from faulttree.drawing.graph import FaultGraph
from faulttree.reads.answers import Answer


@dataclass(frozen=True, slots=True)
class EventName:
    """An event in a table; `label` is what the author calls it."""

    name: str
    label: str


@dataclass(frozen=True, slots=True)
class CutSetRow:
    """One minimal cut set; `number` is its place in the list by probability, from 1; `share` of the top event."""

    number: int
    events: tuple[EventName, ...]
    order: int
    probability: float
    share: float | None


@dataclass(frozen=True, slots=True)
class Measure:
    """An importance measure: its key in the answer, a short head, its full name and what it says."""

    key: str
    head: str
    name: str
    meaning: str
    is_ratio: bool = False


MEASURES = (
    Measure(
        "birnbaum",
        "Birnbaum",
        "Birnbaum importance",
        "How much the top-event probability rises when the event goes from impossible to certain: P(1) − P(0).",
    ),
    Measure(
        "criticality",
        "Criticality · FV (c)",
        "Criticality importance, also Fussell-Vesely by risk reduction",
        "Birnbaum × event probability ÷ top-event probability. For a coherent tree this is 1 − P(0)/P, the share of "
        "the top-event probability that goes away when the event can't occur: form (c) of Fussell-Vesely.",
    ),
    Measure(
        "fussell_vesely_union",
        "FV union (b)",
        "Fussell-Vesely, union form (b)",
        "Probability that at least one minimal cut set with the event has occurred, given the top event; exact, "
        "overlaps counted once.",
    ),
    Measure(
        "fussell_vesely_rare_event",
        "FV sum (a)",
        "Fussell-Vesely, rare-event form (a)",
        "Sum of the products of the minimal cut sets with the event ÷ sum of all products: the customary "
        "approximation.",
    ),
    Measure(
        "risk_achievement_worth",
        "RAW",
        "Risk achievement worth",
        "Factor by which the top-event probability rises when the event is certain: P(1) ÷ P.",
        True,
    ),
    Measure(
        "risk_reduction_worth",
        "RRW",
        "Risk reduction worth",
        "Factor by which the top-event probability falls when the event is impossible: P ÷ P(0); infinite when "
        "nothing is left.",
        True,
    ),
    Measure(
        "diagnostic",
        "Given top",
        "Diagnostic importance",
        "Probability that the event has occurred, given that the top event has: P(event | top).",
    ),
)
MEASURE_BY_KEY = {measure.key: measure for measure in MEASURES}


@dataclass(frozen=True, slots=True)
class EventRow:
    """Importance of one event; values in the order of MEASURES; an infinite ratio is inf, None doesn't apply."""

    event: EventName
    values: tuple[float | None, ...]


def name_event(graph: FaultGraph | None, name: str) -> EventName:
    """Return the event with its label, where the graph has one."""
    bare = name.removeprefix("not ")
    return EventName(name, graph[bare].label if graph is not None and bare in graph else "")


def list_cut_sets(answer: Answer, graph: FaultGraph | None, params: Mapping[str, str]) -> list[CutSetRow]:
    """Return the rows that `with` (words in a name or label) and `order` leave, sorted by `cuts`."""
    top = answer.probability
    rows = [
        CutSetRow(
            number,
            tuple(name_event(graph, name) for name in cut["events"]),
            cut["order"],
            cut["probability"],
            cut["probability"] / top if top else None,
        )
        for number, cut in enumerate(answer.listed, 1)
    ]
    words = params.get("with", "").casefold().split()
    if words:
        rows = [row for row in rows if all(_mentions(row, word) for word in words)]
    if params.get("order", ""):
        rows = [row for row in rows if str(row.order) == params["order"]]
    key, descending = read_sort(params.get("cuts", ""), ("probability", "order", "events"), "-probability")
    if key == "events":
        rows.sort(key=lambda row: [event.name for event in row.events], reverse=descending)
    else:
        rows.sort(key=lambda row: getattr(row, key), reverse=descending)
    return rows


def _mentions(row: CutSetRow, word: str) -> bool:
    return any(word in event.name.casefold() or word in event.label.casefold() for event in row.events)


def list_importance(answer: Answer, graph: FaultGraph | None, params: Mapping[str, str]) -> list[EventRow]:
    """Return the rows that `event` (words in a name or label) leaves, sorted by `by`."""
    rows = [
        EventRow(name_event(graph, name), tuple(_value(measures, measure, answer) for measure in MEASURES))
        for name, measures in answer.data["importance"].items()
    ]
    words = params.get("event", "").casefold().split()
    if words:
        rows = [row for row in rows if all(w in f"{row.event.name} {row.event.label}".casefold() for w in words)]
    key, descending = read_sort(params.get("by", ""), ("name", *MEASURE_BY_KEY), "-birnbaum")
    if key == "name":
        rows.sort(key=lambda row: row.event.name, reverse=descending)
    else:
        place = list(MEASURE_BY_KEY).index(key)
        rows.sort(key=lambda row: row.event.name)
        rows.sort(
            key=lambda row: -math.inf if row.values[place] is None else row.values[place] or 0.0, reverse=descending
        )
    return rows


def _value(measures: Mapping[str, Any], measure: Measure, answer: Answer) -> float | None:
    value: float | None = measures[measure.key]
    if value is None and measure.is_ratio and answer.probability:
        return math.inf  # JSON has no infinity; the denominator was zero
    return value


def read_sort(wanted: str, keys: tuple[str, ...], default: str) -> tuple[str, bool]:
    """Return the key and whether it is descending, from "key" or "-key"; what isn't known gives the default."""
    chosen = wanted if wanted.removeprefix("-") in keys else default
    return chosen.removeprefix("-"), chosen.startswith("-")
