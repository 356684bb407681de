"""Moves of a procedure: a new one, its title, a new revision and what caused it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.models import User

from anomalies.models import Anomaly, CorrectiveAction, Procedure, ProcedureRevision
from anomalies.models.procedure import UNDECIDED
from anomalies.services.procedures import add_procedure, draft_revision, edit_revision, rename_procedure
from anomalies.states import RevisionState
from anomalies.web.fields import line, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form


class AddProcedureForm(MoveForm[Procedure]):
    """Adds a procedure, still without steps."""

    done = "The procedure is here. Draft its first revision now."

    title = line("Title", help_text="What is done, as in “Mate the umbilical”. It stays once a revision was submitted.")
    kind = forms.ChoiceField(
        label="Kind", choices=Procedure.Kind.choices, help_text="A quick-response card must fit on one small card."
    )

    def act(self) -> Procedure:
        """Add it."""
        return add_procedure(actor=self.actor, **self.values())


@move_form("procedure", "rename", move="", rule="procedure.edit", label="Rename", button="Save the title")
class RenameForm(MoveForm[Procedure]):
    """Gives it another title."""

    versioned = True
    done = "The title was changed."

    title = line("Title")

    @classmethod
    def suits(cls, record: Procedure) -> bool:
        """Nobody has signed under the title yet."""
        return not record.revisions.exclude(state=RevisionState.DRAFTED).exists()

    @classmethod
    def start(cls, record: Procedure, actor: User) -> dict[str, Any]:
        """Begin with the title as it is."""
        return {"title": record.title}

    def act(self) -> Procedure:
        """Rename it."""
        return rename_procedure(procedure_id=self.record.pk, actor=self.actor, version=self.seen, **self.values())


class OriginFields(forms.Form):
    """What a revision changes, and what caused it."""

    summary = words("What changes, and why", rows=3)
    action = line(
        "The corrective action that asks for it", required=False, most=20, help_text="Its number, like CA-2031-003."
    )
    anomaly = line(
        "Or the anomaly that caused it",
        required=False,
        most=20,
        help_text="Its number, like A-2031-014; an action names its own.",
    )

    def clean_action(self) -> CorrectiveAction | None:
        """Find the action."""
        found: CorrectiveAction | None = self._find(CorrectiveAction, self.cleaned_data["action"], "action")
        return found

    def clean_anomaly(self) -> Anomaly | None:
        """Find the anomaly."""
        found: Anomaly | None = self._find(Anomaly, self.cleaned_data["anomaly"], "anomaly")
        return found

    def _find(self, model: Any, number: str, what: str) -> Any:
        if not number.strip():
            return None
        actor: User = self.actor  # type: ignore[attr-defined]  # mixed into forms of moves
        found = model.objects.visible_to(actor).filter(number=number.strip().upper()).first()
        if found is None:
            raise forms.ValidationError(f"There's no {what} with the number {number.strip()}.")
        return found


ORIGIN = {"action": "action_id", "anomaly": "anomaly_id"}


@move_form("procedure", "draft-revision", move="", rule="procedure.draft", label="Draft a revision", button="Draft it")
class DraftRevisionForm(OriginFields, MoveForm[Procedure]):
    """Begins a revision with the steps of the latest that was ever released."""

    columns = ORIGIN
    done = "The revision is drafted."

    @classmethod
    def suits(cls, record: Procedure) -> bool:
        """No other one is undecided."""
        return not record.revisions.filter(state__in=UNDECIDED).exists()

    def act(self) -> ProcedureRevision:
        """Draft it."""
        return draft_revision(procedure_id=self.record.pk, actor=self.actor, **self.values())


@move_form("procedure_revision", "edit", label="Edit summary and origin", button="Save", section="origin")
class EditRevisionForm(OriginFields, MoveForm[ProcedureRevision]):
    """Corrects what the draft says of itself."""

    versioned = True
    columns = ORIGIN

    @classmethod
    def start(cls, record: ProcedureRevision, actor: User) -> dict[str, Any]:
        """Begin with what it says."""
        return {
            "summary": record.summary,
            "action": record.action.number if record.action else "",
            "anomaly": record.anomaly.number if record.anomaly else "",
        }

    def act(self) -> ProcedureRevision:
        """Save it."""
        changes = self.values("summary", "action", "anomaly")
        return edit_revision(revision_id=self.record.pk, actor=self.actor, version=self.seen, changes=changes)
