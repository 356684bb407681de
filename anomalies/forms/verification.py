"""Moves of what was done, of its verification, and of the closing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms

from anomalies.forms.actions import ReasonForm
from anomalies.forms.findings import evidence_field, offer_evidence
from anomalies.models import Anomaly, CorrectiveAction, HardwareItem
from anomalies.services.action_work import OF_KIND, do_action
from anomalies.services.closing import close_anomaly, reopen_anomaly
from anomalies.services.verification import find_action_effective, send_back_action, verify_action
from anomalies.web.fields import ItemField, MomentField, PersonField, line, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form


@move_form("action", "do", label="Record as done", button="It was done")
class DoForm(MoveForm[CorrectiveAction]):
    """Asks what the kind of the action needs, and no more."""

    versioned = True
    columns: ClassVar[Mapping[str, str]] = {
        "removed_item": "removed_item_id",
        "installed_item": "installed_item_id",
        "doer": "doer_id",
        "evidence": "evidence_ids",
        "done_note": "note",
    }
    done = "The action awaits verification by somebody else."

    done_note = words("What was done")
    done_at = MomentField("When", required=False, help_text="Now, if left empty.")
    doer = PersonField("Done by", required=False, help_text="You, if nobody is chosen.")
    removed_item = ItemField("Removed", HardwareItem.objects.select_related("type"), required=False, empty="Choose")
    installed_item = ItemField("Installed", HardwareItem.objects.select_related("type"), required=False, empty="Choose")
    retest = forms.ChoiceField(
        label="Retest", choices=[("", "Choose"), *CorrectiveAction.Retest.choices], required=False
    )
    retest_note = words("How it was tested again, and with what result", required=False, rows=2)
    kit_item = line("Item", required=False)
    kit_quantity = forms.IntegerField(label="Quantity", required=False, min_value=1, max_value=100_000)
    kit_stowage = line("Stowed in", required=False)
    kit_delivery = line("On delivery", required=False)
    evidence = evidence_field("Shown by")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        columns = {column for names in OF_KIND.values() for column in names}
        needed = OF_KIND.get(self.record.kind, ())
        for name in list(self.fields):
            column = self.columns.get(name, name)
            if column in columns and column not in needed:
                del self.fields[name]
        offer_evidence(self, self.record.anomaly)

    def describe(self) -> str:
        """Return the criteria, and where the facts of a replacement or a procedure change come from."""
        text = f"Acceptance criteria: {self.record.acceptance_criteria}"
        if self.record.kind == CorrectiveAction.Kind.REPLACEMENT:
            return f"{text} The hardware records must already say that the one is out and the other is in its place."
        if self.record.kind == CorrectiveAction.Kind.PROCEDURE:
            return f"{text} A released revision must name {self.record.number} as its cause."
        return text

    def act(self) -> CorrectiveAction:
        """Record it."""
        return do_action(action_id=self.record.pk, actor=self.actor, version=self.seen, **self.values())


@move_form("action", "verify", label="Verify", button="Sign and verify")
class VerifyForm(MoveForm[CorrectiveAction]):
    """Confirms an action against its criteria."""

    versioned = True
    signed = True
    columns: ClassVar[Mapping[str, str]] = {"evidence": "evidence_ids", "verification_note": "note"}
    done = "The action is verified."

    verification_note = words("What you looked at, and how it meets the criteria")
    evidence = evidence_field("Shown by")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_evidence(self, self.record.anomaly)

    def describe(self) -> str:
        """Return the criteria."""
        return f"Acceptance criteria: {self.record.acceptance_criteria}"

    def act(self) -> CorrectiveAction:
        """Verify."""
        given = self.values()
        return verify_action(action_id=self.record.pk, actor=self.actor, version=self.seen, proof=self.proof, **given)


@move_form("action", "send-back", label="Send back", button="Send it back")
class SendBackActionForm(ReasonForm):
    """It doesn't meet its criteria."""

    service = staticmethod(send_back_action)
    intro = "It is to be done again; the owner is told why."
    done = "The action is back with its owner."


@move_form("action", "find-effective", label="Find effective", button="It works")
class EffectiveForm(MoveForm[CorrectiveAction]):
    """The watch is over."""

    done = "The action is effective."

    note = words("On what it counts as effective", rows=3)

    def act(self) -> CorrectiveAction:
        """Find effective."""
        return find_action_effective(action_id=self.record.pk, actor=self.actor, **self.values())


@move_form("anomaly", "close", label="Close", button="Sign and close", section="closure")
class CloseForm(MoveForm[Anomaly]):
    """Closes an anomaly."""

    versioned = True
    signed = True
    columns: ClassVar[Mapping[str, str]] = {"closing_statement": "statement"}
    intro = "You sign that everything that was to be found and done is found and done."
    done = "The anomaly is closed."

    closing_statement = words("What happened, why, and what was changed", rows=6)

    def act(self) -> Anomaly:
        """Close."""
        given = self.values()
        return close_anomaly(anomaly_id=self.record.pk, actor=self.actor, version=self.seen, proof=self.proof, **given)


@move_form("anomaly", "reopen", label="Reopen", button="Reopen", section="closure")
class ReopenForm(MoveForm[Anomaly]):
    """Opens a closed anomaly."""

    intro = "The closing and its signature stay on record."
    done = "The anomaly is open again."

    reason = words("Why", rows=3)

    def act(self) -> Anomaly:
        """Reopen."""
        return reopen_anomaly(anomaly_id=self.record.pk, actor=self.actor, **self.values())
