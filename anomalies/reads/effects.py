"""What the actions of an anomaly do to its tree, as the engine takes it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Prefetch, Q, QuerySet

from anomalies.models import ActionEffect, ActionTie, Baseline, CorrectiveAction, Investigation
from anomalies.states import ActionState, TieState
from config.kit.errors import DomainError
from faulttree.facade import Effect, EffectKind, Option, list_targets


@dataclass
class Plan:
    """The actions that are weighed.

    actions : not dropped, with at least one effect that counts, not part of the tree in use yet
    idle : not dropped and without such an effect
    included : numbers of those that became part of the tree in use
    lost : effects on what the tree in use doesn't have any more; they don't count
    """

    investigation: Investigation
    actions: list[CorrectiveAction] = field(default_factory=list)
    idle: list[CorrectiveAction] = field(default_factory=list)
    included: set[str] = field(default_factory=set)
    lost: list[ActionEffect] = field(default_factory=list)
    rows: list[ActionEffect] = field(default_factory=list)
    ties: list[ActionTie] = field(default_factory=list)

    @property
    def options(self) -> tuple[Option, ...]:
        """As the engine takes them."""
        return tuple(
            Option(each.number, each.cost or 0.0, each.mass_kg or 0.0, each.crew_hours or 0.0, each.lead_days or 0.0)
            for each in self.actions
        )

    @property
    def effects(self) -> tuple[Effect, ...]:
        """As the engine takes them."""
        return tuple(as_effect(row) for row in self.rows)

    @property
    def excludes(self) -> list[frozenset[str]]:
        """Pairs of which one may be chosen."""
        kept = self.ties_of(ActionTie.Kind.EXCLUDES)
        return [frozenset((tie.action.number, tie.other.number)) for tie in kept]

    @property
    def needs(self) -> list[tuple[str, str]]:
        """Pairs of which the first is chosen only with the second; one that is in the tree already is no condition."""
        return [(tie.action.number, tie.other.number) for tie in self.ties_of(ActionTie.Kind.NEEDS)]

    @property
    def unmet(self) -> list[ActionTie]:
        """Ties to an action that isn't weighed and isn't in the tree either: they can't be kept here."""
        here = {each.number for each in self.actions}
        return [
            tie
            for tie in self.ties
            if tie.kind == ActionTie.Kind.NEEDS
            and tie.action.number in here
            and tie.other.number not in here | self.included
        ]

    def ties_of(self, kind: str) -> list[ActionTie]:
        """Return the ties of a kind between actions that are weighed."""
        here = {each.number for each in self.actions}
        return [tie for tie in self.ties if tie.kind == kind and {tie.action.number, tie.other.number} <= here]


@dataclass(frozen=True, slots=True)
class ActionEffects:
    """What the page of an action shows: its effects in words, its ties either way, and the tree, if there is one."""

    rows: list[tuple[ActionEffect, str]]
    ties: list[ActionTie]
    investigation: Investigation | None


def read_effects(action: CorrectiveAction) -> ActionEffects:
    """Return the standing effects and ties of an action."""
    either = ActionTie.objects.filter(Q(action=action) | Q(other=action), state=TieState.STANDING)
    investigation = Investigation.objects.select_related("revision__tree").filter(anomaly=action.anomaly_id).first()
    labels = list_labels(investigation) if investigation else {}
    rows = action.effects.standing().select_related("action__anomaly", "author")
    return ActionEffects(
        [(row, describe_effect(row, labels)) for row in rows],
        list(either.select_related("action__anomaly", "other").order_by("pk")),
        investigation,
    )


def list_action_parts(action: CorrectiveAction) -> list[QuerySet[Any]]:
    """Return the records whose entries belong to the history of an action."""
    return [action.addresses.all(), action.shown_by.all(), action.effects.all(), action.ties.all()]


def as_effect(row: ActionEffect) -> Effect:
    """Return an effect as the engine takes it; the action's number is its option."""
    amount = math.nan if row.amount is None else row.amount
    return Effect(row.action.number, EffectKind(row.kind), row.event, amount, row.of, row.new_event)


def describe_effect(row: ActionEffect, labels: Mapping[str, str] | None = None) -> str:
    """Return an effect as a phrase with its figures; events by their labels where those are given."""
    kinds, amount = ActionEffect.Kind, "" if row.amount is None else f"{row.amount:.6g}"
    event = f"“{(labels or {}).get(row.event) or row.event}”"
    return {
        kinds.RULED_OUT: f"{event} can't occur any more",
        kinds.MULTIPLIED: f"{row.of} of {event} times {amount}",
        kinds.REPLACED: f"{row.of} of {event} is {amount}{' per hour' if row.of == 'rate' else ''}",
        kinds.INTERVAL: f"{event} is tested every {amount} h",
        kinds.BARRIER: f"a barrier behind {event} that fails with probability {amount}",
        kinds.DETECTION: f"{event} is revealed and dealt with in time, {amount} of its occurrences",
    }[kinds(row.kind)]


def list_labels(investigation: Investigation) -> dict[str, str]:
    """Return the label of each event and gate of the tree in use; nothing for a tree that can't be put together."""
    try:
        return {each.name: each.label for each in list_targets(investigation.revision, investigation.top)}
    except DomainError:
        return {}


def read_plan(investigation: Investigation) -> Plan:
    """Return the actions of the anomaly with what they do to the tree in use; raises BadAssembly."""
    plan = Plan(investigation, included=list_included(investigation))
    known = {target.name for target in list_targets(investigation.revision, investigation.top)}
    for action in list_actions(investigation):
        if action.number in plan.included:
            continue
        standing = list(action.effects.all())
        counted = [row for row in standing if row.event in known]
        plan.lost += [row for row in standing if row.event not in known]
        plan.rows += counted
        (plan.actions if counted else plan.idle).append(action)
    ties = ActionTie.objects.filter(action__anomaly=investigation.anomaly_id, state=TieState.STANDING)
    plan.ties = list(ties.select_related("action", "other"))
    return plan


def list_actions(investigation: Investigation) -> QuerySet[CorrectiveAction]:
    """Return the actions that aren't dropped, each with its standing effects, oldest first."""
    effects: QuerySet[ActionEffect] = ActionEffect.objects.standing().select_related("action", "author")
    rows = CorrectiveAction.objects.filter(anomaly=investigation.anomaly_id).exclude(state=ActionState.DROPPED)
    return rows.select_related("owner").prefetch_related(Prefetch("effects", queryset=effects)).order_by("pk")


def list_included(investigation: Investigation) -> set[str]:
    """Return the numbers of the actions that the revision in use holds."""
    newest = investigation.revision.number
    taken = Baseline.objects.filter(revision__tree=investigation.tree_id, revision__number__lte=newest)
    return {number for numbers in taken.values_list("actions", flat=True) for number in numbers}
