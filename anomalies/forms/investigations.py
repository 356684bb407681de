"""Moves of an investigation: opened on a tree, its events judged, concluded."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms
from django.contrib.auth.models import User

from anomalies.forms.findings import evidence_field, offer_evidence
from anomalies.models import Anomaly, Finding, Investigation
from anomalies.services.dispositions import judge_events
from anomalies.services.investigations import (
    conclude_investigation,
    open_investigation,
    resume_investigation,
    set_mission_time,
    take_up_revision,
)
from anomalies.states import CauseState, FindingState
from anomalies.web.fields import RecordField, RecordsField, line, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form
from config.kit.errors import BadInput
from faulttree.facade import find_newest, list_originals, read_parts

TWO_TOPS = "This tree has several top events: name the one that happened, of {names}."


def hours_field(label: str, *, help_text: str = "") -> forms.FloatField:
    """A length of time in hours; may be empty."""
    return forms.FloatField(label=label, required=False, min_value=0.0, help_text=help_text)


@move_form(
    "anomaly",
    "open-investigation",
    move="investigate",
    rule="investigation.open",
    label="Investigate by a fault tree",
    button="Open the investigation",
    section="investigation",
)
class OpenForm(MoveForm[Anomaly]):
    """Opens the investigation on a copy of a tree."""

    intro = (
        "The investigation gets a copy of the tree, so that both can go on changing; what differs is shown. "
        "If there's no tree for this yet, build one in Trees first."
    )
    done = "The investigation is open."

    tree = RecordField("Fault tree", list_originals(), empty="Choose a tree")
    top = line("Top event", required=False, help_text="The gate that says what happened; empty: the tree's own top.")
    mission_time = hours_field("Mission time, hours", help_text="Needed where probabilities depend on it.")

    @classmethod
    def suits(cls, record: Anomaly) -> bool:
        """None is open."""
        return not hasattr(record, "investigation")

    def act(self) -> Investigation:
        """Open."""
        revision = find_newest(self.cleaned_data["tree"].pk)
        assert revision is not None
        top = self.cleaned_data["top"]
        if not top and len(revision.tops) > 1:
            message = TWO_TOPS.format(names=", ".join(revision.tops))
            raise BadInput(message, code="two_tops", fields={"top": [message]})
        return open_investigation(
            anomaly_id=self.record.pk,
            actor=self.actor,
            revision_id=revision.pk,
            top=top or revision.tops[0],
            mission_time=self.cleaned_data["mission_time"],
        )


@move_form("investigation", "judge", label="Judge events", button="Record the disposition")
class JudgeForm(MoveForm[Investigation]):
    """Gives events and gates a disposition."""

    versioned = True
    columns: ClassVar[Mapping[str, str]] = {"evidence": "evidence_ids", "findings": "finding_ids"}
    intro = (
        "Ruled out enters the tree as “did not occur”, confirmed as “occurred”; both need evidence or an adopted "
        "finding. Credible leaves the event as it is."
    )
    done = "The disposition is on record; the probabilities follow it."

    disposition = forms.ChoiceField(label="Disposition", choices=CauseState.choices, widget=forms.RadioSelect)
    events = forms.MultipleChoiceField(label="Of these events and gates", widget=forms.CheckboxSelectMultiple)
    rationale = words("Why", help_text="On what does the judgement stand?")
    evidence = evidence_field("By this evidence")
    findings = RecordsField("By these findings", Finding.objects.none())

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_evidence(self, self.record.anomaly)
        adopted = self.record.anomaly.findings.filter(state=FindingState.ADOPTED)
        self.fields["findings"].queryset = adopted  # type: ignore[attr-defined]
        self.fields["events"].choices = offer_events(self.record)  # type: ignore[attr-defined]

    def act(self) -> Investigation:
        """Judge."""
        return judge_events(investigation_id=self.record.pk, actor=self.actor, version=self.seen, **self.values())


def offer_events(investigation: Investigation) -> list[tuple[str, list[tuple[str, str]]]]:
    """Return the basic events and gates of the tree, as choices in two groups."""
    parts = read_parts(investigation.revision, investigation.top)

    def choices(listed: list[Any]) -> list[tuple[str, str]]:
        return [(part.name, f"{part.label} ({part.name})" if part.label else part.name) for part in listed]

    return [("Basic events", choices(parts.events)), ("Gates", choices(parts.gates))]


@move_form("investigation", "set-time", label="Mission time", button="Save")
class TimeForm(MoveForm[Investigation]):
    """Sets the mission time."""

    versioned = True

    mission_time = hours_field("Mission time, hours", help_text="Probabilities of the tree are taken at it.")

    @classmethod
    def start(cls, record: Investigation, actor: User) -> dict[str, Any]:
        """Start from what it is."""
        return {"mission_time": record.mission_time}

    def act(self) -> Investigation:
        """Set."""
        return set_mission_time(investigation_id=self.record.pk, actor=self.actor, version=self.seen, **self.values())


@move_form("investigation", "take-up", label="Take up the newest revision", button="Take it up")
class TakeUpForm(MoveForm[Investigation]):
    """Takes up the newest revision of the investigation's tree."""

    versioned = True
    done = "The newest revision of the tree is in use."

    @classmethod
    def suits(cls, record: Investigation) -> bool:
        """There is a newer one."""
        newest = find_newest(record.tree_id)
        return newest is not None and newest.pk != record.revision_id

    def describe(self) -> str:
        """Return what will be in use."""
        newest = find_newest(self.record.tree_id)
        number = newest.number if newest else 0
        return f"Revision {number} of the tree takes the place of {self.record.revision.number}. Dispositions stay."

    def act(self) -> Investigation:
        """Take up."""
        return take_up_revision(investigation_id=self.record.pk, actor=self.actor, version=self.seen)


@move_form("investigation", "conclude", label="Conclude", button="Conclude the investigation")
class ConcludeForm(MoveForm[Investigation]):
    """Ends the work on the tree."""

    versioned = True
    intro = "Every event must have a disposition, or lie under gates that have one."
    done = "The investigation is concluded."

    conclusion = words("What it was, and what it was not", rows=5)

    def act(self) -> Investigation:
        """Conclude."""
        return conclude_investigation(
            investigation_id=self.record.pk, actor=self.actor, version=self.seen, **self.values()
        )


@move_form("investigation", "resume", label="Resume", button="Work on it again")
class ResumeForm(MoveForm[Investigation]):
    """Begins the work again."""

    done = "The investigation is under way again."

    reason = words("Why", rows=3)

    def act(self) -> Investigation:
        """Resume."""
        return resume_investigation(investigation_id=self.record.pk, actor=self.actor, **self.values())
