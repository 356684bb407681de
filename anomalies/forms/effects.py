"""Moves about what actions do to the tree, what they take, how they stand to each other; and the baseline."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms
from django.contrib.auth.models import User
from django.db.models import QuerySet

from anomalies.models import ActionEffect, ActionTie, Baseline, CorrectiveAction, Investigation
from anomalies.services.baselines import TARGETS, list_ready, take_as_baseline
from anomalies.services.effects import (
    ESTIMATES,
    estimate_action,
    state_effect,
    tie_actions,
    untie_actions,
    withdraw_effect,
)
from anomalies.states import ActionState
from anomalies.web.fields import RecordField, RecordsField, line, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form
from config.kit.errors import DomainError
from faulttree.facade import Target, list_targets


def amount_field(label: str, help_text: str = "") -> forms.FloatField:
    """A number, 0 or more; may be empty."""
    return forms.FloatField(label=label, required=False, min_value=0.0, help_text=help_text)


def has_tree(action: CorrectiveAction) -> bool:
    """Tell whether the anomaly of an action is investigated by a tree."""
    return hasattr(action.anomaly, "investigation")


def list_others(action: CorrectiveAction) -> QuerySet[CorrectiveAction]:
    """Return the other actions of its anomaly that aren't dropped."""
    rows = CorrectiveAction.objects.filter(anomaly=action.anomaly_id).exclude(pk=action.pk)
    return rows.exclude(state=ActionState.DROPPED)


@move_form("action", "state-effect", label="Say what it does", button="Record the effect", section="effects")
class StateEffectForm(MoveForm[CorrectiveAction]):
    """Says what an action does to an event or gate."""

    layout = "anomalies/benefit/_effect_fields.html"
    intro = "Each effect changes one event or gate of the tree; an action may have several."
    done = "The effect is recorded; the page of benefit shows what it brings."

    event = forms.ChoiceField(label="Event or gate", help_text="Behind a gate only a barrier can be put.")
    kind = forms.ChoiceField(
        label="What the action does to it", choices=ActionEffect.Kind.choices, widget=forms.RadioSelect
    )
    of = forms.ChoiceField(
        label="Of its", choices=ActionEffect.Of.choices, widget=forms.RadioSelect, required=False, initial="probability"
    )
    amount = amount_field("How much")
    new_event = line(
        "Name of the event that is added",
        required=False,
        help_text="Like BYPASS-FAILS: letters, digits, hyphens. Empty: one is made of event and action.",
    )
    reason = words("Why this much", rows=3, help_text="A test, a calculation, experience with the same part.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["event"].choices = [("", "Choose"), *self._offer()]  # type: ignore[attr-defined]

    @classmethod
    def suits(cls, record: CorrectiveAction) -> bool:
        """There's a tree to say it of."""
        return has_tree(record)

    def _offer(self) -> list[tuple[str, list[tuple[str, str]]]]:
        investigation = getattr(self.record.anomaly, "investigation", None)
        if investigation is None:
            return []
        try:
            targets = list_targets(investigation.revision, investigation.top)
        except DomainError:
            return []
        events = [(each.name, describe_target(each)) for each in targets if not each.is_gate]
        return [
            ("Basic events", events),
            ("Gates: a barrier only", [(each.name, describe_target(each)) for each in targets if each.is_gate]),
        ]

    def goes_to(self, result: Any) -> str:
        """Go back to the action."""
        return self.record.get_absolute_url()

    def act(self) -> ActionEffect:
        """State it."""
        given = self.values() | {"of": self.cleaned_data["of"] or "probability"}
        return state_effect(action_id=self.record.pk, actor=self.actor, **given)


def describe_target(target: Target) -> str:
    """Return a target with what can be changed about it."""
    name = f"{target.label} ({target.name})" if target.label else target.name
    facts = [
        "has a rate" if target.has_rate else "",
        "is tested" if target.is_tested else "",
        f"in the common-cause group {target.group}" if target.group else "",
    ]
    told = ", ".join(fact for fact in facts if fact)
    return f"{name}: {told}" if told else name


@move_form("action", "estimate", move="state_effect", label="Estimate what it takes", button="Save", section="effects")
class EstimateForm(MoveForm[CorrectiveAction]):
    """Says what an action takes."""

    versioned = True
    intro = "Used to choose among actions. What is left empty counts as nothing."

    cost = amount_field("Cost", "In the unit your programme uses, the same for all actions.")
    mass_kg = amount_field("Mass, kg")
    crew_hours = amount_field("Crew time, hours")
    lead_days = amount_field("Lead time, days", "Until it is in place; of several actions the longest counts.")

    @classmethod
    def start(cls, record: CorrectiveAction, actor: User) -> dict[str, Any]:
        """Start from what is there."""
        return {name: getattr(record, name) for name in ESTIMATES}

    def act(self) -> CorrectiveAction:
        """Estimate."""
        return estimate_action(
            action_id=self.record.pk, actor=self.actor, version=self.seen, changes=self.values(*ESTIMATES)
        )


@move_form("action", "tie", label="Tie to another action", button="Tie them", section="effects")
class TieForm(MoveForm[CorrectiveAction]):
    """Says that an action needs another one, or excludes it."""

    columns: ClassVar[Mapping[str, str]] = {"other": "other_id"}
    intro = "Whoever chooses among the actions then keeps to it."
    done = "The two actions are tied."

    kind = forms.ChoiceField(label="This action", choices=ActionTie.Kind.choices, widget=forms.RadioSelect)
    other = RecordField("The other action", CorrectiveAction.objects.none(), empty="Choose")
    note = words("Why", rows=2, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["other"].queryset = list_others(self.record)  # type: ignore[attr-defined]

    @classmethod
    def suits(cls, record: CorrectiveAction) -> bool:
        """There's another one to tie it to."""
        return list_others(record).exists()

    def goes_to(self, result: Any) -> str:
        """Go back to the action."""
        return self.record.get_absolute_url()

    def act(self) -> ActionTie:
        """Tie."""
        return tie_actions(action_id=self.record.pk, actor=self.actor, **self.values())


@move_form("effect", "withdraw", label="Withdraw", button="Withdraw the effect")
class WithdrawEffectForm(MoveForm[ActionEffect]):
    """Takes an effect back."""

    intro = "It stays on record and doesn't count any more."
    done = "The effect doesn't count any more."

    reason = words("Why", rows=2)

    def act(self) -> ActionEffect:
        """Withdraw."""
        return withdraw_effect(effect_id=self.record.pk, actor=self.actor, **self.values())


@move_form("action_tie", "withdraw", label="Untie", button="Untie them")
class UntieForm(MoveForm[ActionTie]):
    """Takes a tie back."""

    done = "The two actions stand on their own again."

    reason = words("Why", rows=2)

    def act(self) -> ActionTie:
        """Untie."""
        return untie_actions(tie_id=self.record.pk, actor=self.actor, **self.values())


@move_form(
    "investigation",
    "take-baseline",
    label="Take actions as baseline",
    button="Sign and take as baseline",
    section="benefit",
)
class BaselineForm(MoveForm[Investigation]):
    """Makes verified actions part of a tree."""

    versioned = True
    signed = True
    columns: ClassVar[Mapping[str, str]] = {"actions": "action_ids"}
    intro = (
        "The newest revision of the tree, with the effects of these actions, becomes a new revision of it. Only what "
        "is verified and in place belongs there: all later figures have it."
    )
    done = "The tree has a new revision with these actions in it."

    actions = RecordsField("Verified actions", CorrectiveAction.objects.none())
    target = forms.ChoiceField(label="They become part of", choices=list(TARGETS.items()), widget=forms.RadioSelect)
    note = words("Note for the revision", rows=2, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        keys = [action.pk for action in list_ready(self.record)]
        self.fields["actions"].queryset = CorrectiveAction.objects.filter(pk__in=keys)  # type: ignore[attr-defined]

    @classmethod
    def suits(cls, record: Investigation) -> bool:
        """Some action is verified and has an effect."""
        return bool(list_ready(record))

    def act(self) -> Baseline:
        """Take them."""
        given = self.values()
        return take_as_baseline(
            investigation_id=self.record.pk, actor=self.actor, version=self.seen, proof=self.proof, **given
        )


class BudgetForm(forms.Form):
    """Within what a set of actions is to be chosen; sent by GET."""

    cost = amount_field("Cost, at most")
    mass = amount_field("Mass, kg")
    crew_hours = amount_field("Crew time, hours")
    lead_days = amount_field("Lead time, days")
    must = forms.MultipleChoiceField(label="In any case", required=False, widget=forms.CheckboxSelectMultiple)

    def __init__(self, *args: Any, actions: list[CorrectiveAction], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["must"].choices = [(each.number, f"{each.number} {each.title}") for each in actions]  # type: ignore[attr-defined]
