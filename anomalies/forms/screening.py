"""Moves of the safety engineer: is it an anomaly, how grave is it, who leads the work on it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms
from django.contrib.auth.models import User
from django.db.models import QuerySet

from anomalies.models import Anomaly
from anomalies.services.screening import (
    assign_anomaly,
    dismiss_anomaly,
    reassess_anomaly,
    restore_anomaly,
    screen_anomaly,
)
from anomalies.web.fields import PersonField, line, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form
from anomalies.web.risk_matrix import Matrix, choices, draw_matrix


def find_leads() -> QuerySet[User]:
    """Return who may lead the work on an anomaly."""
    found = User.objects.with_perm("anomalies.change_anomaly", backend="django.contrib.auth.backends.ModelBackend")
    return found.order_by("last_name", "first_name", "username")


class RiskForm(MoveForm[Anomaly]):
    """Chooses a cell of the risk matrix."""

    columns: ClassVar[Mapping[str, str]] = {"cell": "severity", "lead": "lead_id"}
    layout = "anomalies/dossier/_risk_fields.html"
    with_eliminated = True

    cell = forms.ChoiceField(
        label="Severity and probability",
        widget=forms.RadioSelect,
        error_messages={"required": "Choose a cell of the matrix."},
    )
    rationale = words("Why this severity and this probability")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["cell"].choices = choices(with_eliminated=self.with_eliminated)  # type: ignore[attr-defined]

    @property
    def matrix(self) -> Matrix:
        """The matrix with what was chosen."""
        return draw_matrix(str(self["cell"].value() or ""), with_eliminated=self.with_eliminated)

    def risk(self) -> dict[str, Any]:
        """Return what the service takes."""
        code = self.cleaned_data["cell"]
        return {"severity": int(code[0]), "probability": code[1], "rationale": self.cleaned_data["rationale"]}


@move_form("anomaly", "screen", label="Screen", button="Open the anomaly")
class ScreenForm(RiskForm):
    """Opens a report: how grave it is, and who leads the work on it."""

    intro = "It becomes an open anomaly, with a risk assessment code and a lead."
    done = "Screened: the anomaly is open."
    with_eliminated = False

    lead = PersonField("Who leads the work on it")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["lead"].queryset = find_leads()  # type: ignore[attr-defined]

    def act(self) -> Anomaly:
        """Screen it."""
        lead_id = self.cleaned_data["lead"].pk
        return screen_anomaly(anomaly_id=self.record.pk, actor=self.actor, lead_id=lead_id, **self.risk())


@move_form("anomaly", "reassess", label="Reassess", button="Save the risk", section="risk")
class ReassessForm(RiskForm):
    """Gives an open anomaly another risk."""

    intro = "The risk before it stays in the history."
    done = "The risk was reassessed."

    @classmethod
    def start(cls, record: Anomaly, actor: User) -> dict[str, Any]:
        """Begin with the risk as it is."""
        return {"cell": record.risk_code, "rationale": record.risk_rationale}

    def act(self) -> Anomaly:
        """Reassess it."""
        return reassess_anomaly(anomaly_id=self.record.pk, actor=self.actor, **self.risk())


@move_form("anomaly", "assign", label="Change the lead", section="risk")
class AssignForm(MoveForm[Anomaly]):
    """Gives the work to somebody else."""

    columns: ClassVar[Mapping[str, str]] = {"lead": "lead_id"}
    done = "The lead was changed."

    lead = PersonField("Who leads the work from now on")
    reason = line("Why", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["lead"].queryset = find_leads()  # type: ignore[attr-defined]

    def act(self) -> Anomaly:
        """Assign it."""
        return assign_anomaly(anomaly_id=self.record.pk, actor=self.actor, **self.values())


@move_form("anomaly", "dismiss", label="Dismiss", button="Dismiss the report")
class DismissForm(MoveForm[Anomaly]):
    """Finds that a report is no anomaly."""

    intro = "It keeps its number and can be restored. A duplicate: link it to the original first."
    done = "The report was dismissed."

    reason = words("Why it's no anomaly")

    def act(self) -> Anomaly:
        """Dismiss it."""
        return dismiss_anomaly(anomaly_id=self.record.pk, actor=self.actor, reason=self.cleaned_data["reason"])


@move_form("anomaly", "restore", label="Restore", button="Restore the report")
class RestoreForm(MoveForm[Anomaly]):
    """Takes a dismissal back."""

    intro = "It awaits screening again."
    done = "The report awaits screening again."

    reason = words("Why")

    def act(self) -> Anomaly:
        """Restore it."""
        return restore_anomaly(anomaly_id=self.record.pk, actor=self.actor, reason=self.cleaned_data["reason"])
