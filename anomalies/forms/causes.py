"""Moves of causes, and of the outcome that none was found."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms
from django.contrib.auth.models import User

from anomalies.forms.findings import evidence_field, offer_evidence
from anomalies.models import Anomaly, Cause, Finding
from anomalies.services.causes import (
    confirm_cause,
    edit_cause,
    find_cause_credible,
    reconsider_cause,
    rest_cause_on,
    rule_out_cause,
    state_cause,
)
from anomalies.services.unexplained import accept_unexplained, retract_acceptance
from anomalies.web.fields import RecordField, RecordsField, line, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form
from faulttree.facade import list_trees

COLUMNS = {"parent": "parent_id", "tree": "tree_id", "findings": "finding_ids"}


class CauseFields(forms.Form):
    """What every form of a cause asks."""

    kind = forms.ChoiceField(label="Kind", choices=Cause.Kind.choices)
    statement = words("The cause, in a sentence", rows=3)
    parent = RecordField(
        "It led to",
        Cause.objects.none(),
        required=False,
        empty="What happened, directly",
        help_text="The why-chain reads from what happened down to the root.",
    )
    tree = RecordField("Fault tree", list_trees(), required=False, empty="No tree")
    event_code = line("Basic event in that tree", required=False, help_text="The event's name, as the tree has it.")

    def offer_parents(self, anomaly: Anomaly, cause: Cause | None = None) -> None:
        """The parents offered are the other causes of the anomaly."""
        others = anomaly.causes.exclude(pk=cause.pk) if cause else anomaly.causes.all()
        self.fields["parent"].queryset = others  # type: ignore[attr-defined]


@move_form(
    "anomaly",
    "state-cause",
    move="investigate",
    rule="cause.state",
    label="State a cause",
    button="State it",
    section="causes",
)
class StateCauseForm(CauseFields, MoveForm[Anomaly]):
    """States a possible cause."""

    columns: ClassVar[Mapping[str, str]] = COLUMNS
    intro = "State everything that may have caused it; ruling out comes later."
    done = "The cause is on record, open."

    findings = RecordsField("It rests on findings", Finding.objects.none())

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_parents(self.record)
        self.fields["findings"].queryset = self.record.findings.standing()  # type: ignore[attr-defined]

    def act(self) -> Cause:
        """State."""
        return state_cause(anomaly_id=self.record.pk, actor=self.actor, **self.values())


@move_form("cause", "edit", label="Edit", button="Save")
class EditCauseForm(CauseFields, MoveForm[Cause]):
    """Puts a cause otherwise."""

    versioned = True
    columns: ClassVar[Mapping[str, str]] = COLUMNS

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_parents(self.record.anomaly, self.record)

    @classmethod
    def start(cls, record: Cause, actor: User) -> dict[str, Any]:
        """Start from what is there."""
        plain = {name: getattr(record, name) for name in ("kind", "statement", "event_code")}
        return plain | {"parent": record.parent_id, "tree": record.tree_id}

    def act(self) -> Cause:
        """Edit."""
        return edit_cause(cause_id=self.record.pk, actor=self.actor, version=self.seen, changes=self.values())


@move_form("cause", "rest-on", move="edit", label="Change its findings", button="Save")
class RestCauseForm(MoveForm[Cause]):
    """Changes what a cause rests on."""

    versioned = True
    columns: ClassVar[Mapping[str, str]] = COLUMNS

    findings = RecordsField("It rests on findings", Finding.objects.none())

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["findings"].queryset = self.record.anomaly.findings.standing()  # type: ignore[attr-defined]

    @classmethod
    def start(cls, record: Cause, actor: User) -> dict[str, Any]:
        """Tick what it rests on now."""
        return {"findings": list(record.rests_on.filter(active=True).values_list("finding_id", flat=True))}

    def act(self) -> Cause:
        """Rest."""
        return rest_cause_on(cause_id=self.record.pk, actor=self.actor, version=self.seen, **self.values())


class JudgeForm(MoveForm[Cause]):
    """Base of the three judgements."""

    versioned = True
    columns: ClassVar[Mapping[str, str]] = {"evidence": "evidence_ids"}
    service: ClassVar[Any]

    rationale = words("Why", help_text="On what does the judgement stand?")
    evidence = evidence_field("By this evidence")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_evidence(self, self.record.anomaly)

    @classmethod
    def start(cls, record: Cause, actor: User) -> dict[str, Any]:
        """Tick the evidence it was judged on before."""
        return {"evidence": list(record.judged_on.filter(active=True).values_list("evidence_id", flat=True))}

    def describe(self) -> str:
        """Return the cause, and what a judgement needs."""
        return f"{self.record.statement} — a judgement stands on an adopted finding, or on evidence."

    def act(self) -> Cause:
        """Judge."""
        judge = type(self).service
        judged: Cause = judge(cause_id=self.record.pk, actor=self.actor, version=self.seen, **self.values())
        return judged


@move_form("cause", "confirm", label="Confirm", button="Confirm the cause")
class ConfirmForm(JudgeForm):
    """It was this."""

    service = staticmethod(confirm_cause)
    done = "The cause is confirmed."


@move_form("cause", "rule-out", label="Rule out", button="Rule the cause out")
class RuleOutForm(JudgeForm):
    """It was not this."""

    service = staticmethod(rule_out_cause)
    done = "The cause is ruled out."


@move_form("cause", "find-credible", label="Credible", button="Call it credible")
class CredibleForm(JudgeForm):
    """It may have been this."""

    service = staticmethod(find_cause_credible)
    done = "The cause is credible: neither ruled out nor confirmed."


@move_form("cause", "reconsider", label="Reconsider", button="Open it again")
class ReconsiderForm(MoveForm[Cause]):
    """Opens a judged cause again."""

    intro = "The judgement stays on record."
    done = "The cause is open again."

    reason = words("Why", rows=3)

    def act(self) -> Cause:
        """Reconsider."""
        return reconsider_cause(cause_id=self.record.pk, actor=self.actor, **self.values())


@move_form(
    "anomaly", "accept-unexplained", label="Accept as unexplained", button="Sign and accept the risk", section="causes"
)
class UnexplainedForm(MoveForm[Anomaly]):
    """Accepts the risk of an anomaly that stays unexplained."""

    versioned = True
    signed = True
    done = "The anomaly stays unexplained, and its risk is accepted."

    rationale = words("What was tried, and why the remaining risk is acceptable", rows=5)

    @classmethod
    def suits(cls, record: Anomaly) -> bool:
        """Not accepted yet."""
        return record.unexplained_at is None

    def describe(self) -> str:
        """Return what is accepted."""
        return (
            "An honest end when the cause can't be found: every cause is judged, none confirmed. You accept the risk "
            f"{self.record.risk_code} in your name. The programme's safety authority decides who may."
        )

    def act(self) -> Anomaly:
        """Accept."""
        given = {"version": self.seen, "proof": self.proof, "rationale": self.cleaned_data["rationale"]}
        return accept_unexplained(anomaly_id=self.record.pk, actor=self.actor, **given)


@move_form("anomaly", "retract-acceptance", label="Retract the acceptance", button="Retract", section="causes")
class RetractForm(MoveForm[Anomaly]):
    """Takes an acceptance back."""

    done = "The risk isn't accepted any more."

    reason = words("Why", rows=3)

    @classmethod
    def suits(cls, record: Anomaly) -> bool:
        """Accepted."""
        return record.unexplained_at is not None

    def act(self) -> Anomaly:
        """Retract."""
        return retract_acceptance(anomaly_id=self.record.pk, actor=self.actor, **self.values())
