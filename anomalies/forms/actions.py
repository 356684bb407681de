"""Moves of corrective actions: up to the commitment, and back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms
from django.contrib.auth.models import User

from anomalies.models import Activity, Anomaly, Cause, CorrectiveAction
from anomalies.people import find_people_who_may
from anomalies.services.actions import (
    address_causes,
    commit_action,
    drop_action,
    edit_action,
    propose_action,
    recommit_action,
    reopen_action,
)
from anomalies.states import ActionState, ActivityState
from anomalies.web.fields import PersonField, RecordField, RecordsField, line, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form

COLUMNS = {"causes": "cause_ids", "needed_before": "needed_before_id", "owner": "owner_id"}


class ActionFields(forms.Form):
    """What every form of an action asks."""

    kind = forms.ChoiceField(label="Kind", choices=CorrectiveAction.Kind.choices)
    title = line("What will be changed, in a line")
    description = words("In more words", required=False)
    acceptance_criteria = words(
        "Acceptance criteria",
        required=False,
        rows=3,
        help_text="How one will see that it was done well. Needed before anybody commits to it.",
    )
    needed_before = RecordField("Needed before", Activity.objects.none(), required=False, empty="No activity")
    watch_activities = forms.IntegerField(
        label="Watch, activities",
        required=False,
        min_value=0,
        max_value=1000,
        help_text="How many completed activities with this hardware must pass without a recurrence before it counts as "
        "effective.",
    )

    def offer_activities(self) -> None:
        """The activities offered are still to come."""
        to_come = Activity.objects.filter(state__in=(ActivityState.PLANNED, ActivityState.UNDER_WAY))
        self.fields["needed_before"].queryset = to_come.order_by("planned_start")  # type: ignore[attr-defined]


@move_form(
    "anomaly",
    "propose-action",
    move="investigate",
    rule="action.propose",
    label="Propose an action",
    button="Propose",
    section="actions",
)
class ProposeActionForm(ActionFields, MoveForm[Anomaly]):
    """Proposes an action."""

    columns: ClassVar[Mapping[str, str]] = COLUMNS
    intro = "An action addresses causes. It gets an owner, a day and criteria when somebody commits to it."
    done = "The action is proposed."

    causes = RecordsField("It addresses", Cause.objects.none())
    field_order = ("kind", "title", "causes")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_activities()
        self.fields["causes"].queryset = self.record.causes.all()  # type: ignore[attr-defined]

    def act(self) -> CorrectiveAction:
        """Propose."""
        given = {name: value for name, value in self.values().items() if value not in (None, "")}
        return propose_action(anomaly_id=self.record.pk, actor=self.actor, **given)


@move_form("action", "edit", label="Edit", button="Save")
class EditActionForm(ActionFields, MoveForm[CorrectiveAction]):
    """Puts an action otherwise."""

    versioned = True
    columns: ClassVar[Mapping[str, str]] = COLUMNS

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_activities()
        if self.record.state == ActionState.COMMITTED:
            del self.fields["acceptance_criteria"]  # part of the commitment

    @classmethod
    def start(cls, record: CorrectiveAction, actor: User) -> dict[str, Any]:
        """Start from what is there."""
        plain = ("kind", "title", "description", "acceptance_criteria", "watch_activities")
        return {name: getattr(record, name) for name in plain} | {"needed_before": record.needed_before_id}

    def act(self) -> CorrectiveAction:
        """Edit."""
        return edit_action(action_id=self.record.pk, actor=self.actor, version=self.seen, changes=self.values())


@move_form("action", "address", move="edit", label="Change its causes", button="Save")
class AddressForm(MoveForm[CorrectiveAction]):
    """Changes which causes an action addresses."""

    versioned = True
    columns: ClassVar[Mapping[str, str]] = COLUMNS

    causes = RecordsField("It addresses", Cause.objects.none())

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["causes"].queryset = self.record.anomaly.causes.all()  # type: ignore[attr-defined]

    @classmethod
    def start(cls, record: CorrectiveAction, actor: User) -> dict[str, Any]:
        """Tick those it addresses now."""
        return {"causes": list(record.addresses.filter(active=True).values_list("cause_id", flat=True))}

    def act(self) -> CorrectiveAction:
        """Address."""
        return address_causes(action_id=self.record.pk, actor=self.actor, version=self.seen, **self.values())


class PromiseFields(forms.Form):
    """Who, by when, against what."""

    owner = PersonField("Owner", find_people_who_may("add_correctiveaction"))
    due_on = forms.DateField(label="Due on (UTC)", widget=forms.DateInput(attrs={"type": "date"}))
    acceptance_criteria = words("Acceptance criteria", rows=3)


class PromiseForm(PromiseFields, MoveForm[CorrectiveAction]):
    """Base of commitment and its change."""

    versioned = True
    columns: ClassVar[Mapping[str, str]] = COLUMNS

    @classmethod
    def start(cls, record: CorrectiveAction, actor: User) -> dict[str, Any]:
        """Start from what is there."""
        due_on = record.due_on.isoformat() if record.due_on else None
        return {"owner": record.owner_id, "due_on": due_on, "acceptance_criteria": record.acceptance_criteria}


@move_form("action", "commit", label="Commit", button="Commit to it")
class CommitForm(PromiseForm):
    """Somebody will do it."""

    intro = "The owner sees it done by the day; somebody else verifies it against the criteria."
    done = "The action is committed."

    def act(self) -> CorrectiveAction:
        """Commit."""
        return commit_action(action_id=self.record.pk, actor=self.actor, version=self.seen, **self.values())


@move_form("action", "recommit", label="Change the commitment", button="Change it")
class RecommitForm(PromiseForm):
    """Another owner, day or criteria."""

    done = "The commitment is changed."

    reason = words("Why", rows=2)

    def act(self) -> CorrectiveAction:
        """Recommit."""
        return recommit_action(action_id=self.record.pk, actor=self.actor, version=self.seen, **self.values())


class ReasonForm(MoveForm[CorrectiveAction]):
    """Base of moves that only need a reason."""

    service: ClassVar[Any]

    reason = words("Why", rows=3)

    def act(self) -> CorrectiveAction:
        """Do it."""
        serve = type(self).service
        served: CorrectiveAction = serve(action_id=self.record.pk, actor=self.actor, **self.values())
        return served


@move_form("action", "drop", label="Drop", button="Drop the action")
class DropForm(ReasonForm):
    """It won't be done."""

    service = staticmethod(drop_action)
    intro = "It stays on record as dropped, with the reason."
    done = "The action is dropped."


@move_form("action", "reopen", label="Reopen", button="Reopen the action")
class ReopenActionForm(ReasonForm):
    """It must be done or judged again."""

    service = staticmethod(reopen_action)
    intro = "What was done and verified stays on record, and doesn't count any more."
    done = "The action is open again."
