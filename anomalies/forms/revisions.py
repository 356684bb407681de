"""Moves of a procedure's revision, from the draft to release and beyond."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, ClassVar

from anomalies.models import Activity, ProcedureRevision
from anomalies.services.revision_moves import (
    acknowledge_revision,
    approve_revision,
    release_revision,
    send_back_revision,
    submit_revision,
    withdraw_revision,
)
from anomalies.states import ActivityState
from anomalies.web.fields import RecordField, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form

Revision = ProcedureRevision


@move_form("procedure_revision", "submit", label="Submit", button="Submit it for approval")
class SubmitForm(MoveForm[Revision]):
    """Hands the draft in."""

    versioned = True
    intro = "Nobody edits it any more, unless it's sent back. Somebody who didn't write it approves it."
    done = "The revision awaits approval."

    def act(self) -> Revision:
        """Submit it."""
        return submit_revision(revision_id=self.record.pk, actor=self.actor, version=self.seen)


@move_form("procedure_revision", "approve", label="Approve", button="Sign and approve")
class ApproveForm(MoveForm[Revision]):
    """Signs that it may be released."""

    versioned = True
    signed = True
    intro = "You sign the steps as they stand: look at what they change first."
    done = "The revision is approved."

    def act(self) -> Revision:
        """Approve it."""
        return approve_revision(revision_id=self.record.pk, actor=self.actor, version=self.seen, proof=self.proof)


@move_form("procedure_revision", "release", label="Release", button="Sign and release")
class ReleaseForm(MoveForm[Revision]):
    """Puts it in force from an activity on."""

    versioned = True
    signed = True
    columns: ClassVar[Mapping[str, str]] = {"effective_from": "effective_from_id"}
    intro = "It is in force from the planned start of the activity on; the one before holds for what starts earlier."
    done = "The revision is released."

    effective_from = RecordField("In force from", Activity.objects.none(), empty="Choose an activity")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        planned = Activity.objects.filter(state=ActivityState.PLANNED).order_by("planned_start", "pk")
        self.fields["effective_from"].queryset = planned  # type: ignore[attr-defined]

    def act(self) -> Revision:
        """Release it."""
        return release_revision(
            revision_id=self.record.pk,
            actor=self.actor,
            version=self.seen,
            proof=self.proof,
            **self.values("effective_from"),
        )


class ReasonForm(MoveForm[Revision]):
    """Asks why, and nothing else."""

    service: ClassVar[Callable[..., Revision]]

    reason = words("Why", rows=3)

    def act(self) -> Revision:
        """Make the move."""
        return type(self).service(revision_id=self.record.pk, actor=self.actor, reason=self.cleaned_data["reason"])


@move_form("procedure_revision", "send-back", label="Send back", button="Send it back")
class SendBackForm(ReasonForm):
    """Makes it a draft again."""

    service = staticmethod(send_back_revision)
    intro = "It becomes a draft again. An approval doesn't hold any more; its signature stays on record."
    done = "The revision is a draft again."


@move_form("procedure_revision", "withdraw", label="Withdraw", button="Withdraw the revision")
class WithdrawForm(ReasonForm):
    """Takes it out of use."""

    service = staticmethod(withdraw_revision)
    done = "The revision was withdrawn."

    def describe(self) -> str:
        """Say what follows."""
        if self.record.released_at:
            return "If it is in force, nothing is in force afterwards until another one is released."
        return "It is of no use any more; another one can be drafted."


@move_form("procedure_revision", "acknowledge", label="I have read it", button="I have read it", section="reading")
class AcknowledgeForm(MoveForm[Revision]):
    """Records that somebody has read it."""

    intro = "It goes on record, with your name and the time, that you have read this revision."
    done = "It is on record that you have read it."

    def act(self) -> Revision:
        """Acknowledge it."""
        acknowledge_revision(revision_id=self.record.pk, actor=self.actor)
        return self.record
