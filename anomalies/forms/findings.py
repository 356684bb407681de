"""Moves of the board: who sits on it, what it finds, where its members stand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms
from django.contrib.auth.models import User

from anomalies.models import Anomaly, BoardSeat, Concurrence, Evidence, Finding
from anomalies.people import find_people_who_may
from anomalies.services.board import seat_member, unseat_member
from anomalies.services.findings import (
    adopt_finding,
    edit_finding,
    propose_finding,
    rest_finding_on,
    send_back_finding,
    state_position,
    withdraw_finding,
)
from anomalies.web.fields import PersonField, RecordsField, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form


def evidence_field(label: str, *, required: bool = False) -> RecordsField:
    """Boxes to tick, filled by `offer_evidence`."""
    return RecordsField(label, Evidence.objects.none(), required=required)


def offer_evidence(form: forms.Form, anomaly: Anomaly, name: str = "evidence") -> None:
    """The field offers what the anomaly holds."""
    form.fields[name].queryset = anomaly.evidence.held()  # type: ignore[attr-defined]
    if not anomaly.evidence.held().exists():
        form.fields[name].help_text = "This anomaly has no evidence yet: add some first."


@move_form("anomaly", "seat", label="Seat a member", button="Seat", section="findings")
class SeatForm(MoveForm[Anomaly]):
    """Puts somebody on the board."""

    columns: ClassVar[Mapping[str, str]] = {"person": "person_id"}
    intro = "Every member says where they stand before a finding is adopted."
    done = "The board has one more member."

    person = PersonField("Member", User.objects.none())

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        seated = self.record.board.filter(active=True).values("person")
        people = find_people_who_may("change_anomaly").exclude(pk__in=seated)
        self.fields["person"].queryset = people  # type: ignore[attr-defined]

    def act(self) -> BoardSeat:
        """Seat."""
        return seat_member(anomaly_id=self.record.pk, actor=self.actor, **self.values())


@move_form("anomaly", "unseat", move="seat", label="Release a member", button="Release", section="findings")
class UnseatForm(MoveForm[Anomaly]):
    """Takes somebody off the board."""

    columns: ClassVar[Mapping[str, str]] = {"person": "person_id"}
    intro = "Where they stood on findings stays on record."
    done = "The member doesn't sit on the board any more."

    person = PersonField("Member", User.objects.none())
    reason = words("Why", rows=2)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        seated = self.record.board.filter(active=True).values("person")
        self.fields["person"].queryset = User.objects.filter(pk__in=seated)  # type: ignore[attr-defined]

    @classmethod
    def suits(cls, record: Anomaly) -> bool:
        """There is a board."""
        return record.board.filter(active=True).exists()

    def act(self) -> BoardSeat:
        """Unseat."""
        return unseat_member(anomaly_id=self.record.pk, actor=self.actor, **self.values())


@move_form(
    "anomaly",
    "propose-finding",
    move="investigate",
    rule="finding.propose",
    label="Propose a finding",
    button="Propose",
    section="findings",
)
class ProposeFindingForm(MoveForm[Anomaly]):
    """Puts a finding before the board."""

    columns: ClassVar[Mapping[str, str]] = {"evidence": "evidence_ids"}
    intro = "A finding says what is so, and rests on evidence. It comes before the board."
    done = "The finding is before the board."

    kind = forms.ChoiceField(label="Kind", choices=Finding.Kind.choices)
    statement = words("What is so")
    evidence = evidence_field("It rests on", required=True)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_evidence(self, self.record)

    def act(self) -> Finding:
        """Propose."""
        return propose_finding(anomaly_id=self.record.pk, actor=self.actor, **self.values())


@move_form("finding", "edit", label="Edit", button="Save")
class EditFindingForm(MoveForm[Finding]):
    """Puts a finding otherwise."""

    versioned = True
    intro = "Positions on the wording before don't count for a new one."

    kind = forms.ChoiceField(label="Kind", choices=Finding.Kind.choices)
    statement = words("What is so")

    @classmethod
    def start(cls, record: Finding, actor: User) -> dict[str, Any]:
        """Start from what is there."""
        return {"kind": record.kind, "statement": record.statement}

    def act(self) -> Finding:
        """Edit."""
        return edit_finding(finding_id=self.record.pk, actor=self.actor, version=self.seen, changes=self.values())


@move_form("finding", "rest-on", move="edit", label="Change its evidence", button="Save")
class RestFindingForm(MoveForm[Finding]):
    """Changes what a finding rests on."""

    versioned = True
    columns: ClassVar[Mapping[str, str]] = {"evidence": "evidence_ids"}

    evidence = evidence_field("It rests on", required=True)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_evidence(self, self.record.anomaly)

    @classmethod
    def start(cls, record: Finding, actor: User) -> dict[str, Any]:
        """Tick what it rests on now."""
        return {"evidence": list(record.rests_on.filter(active=True).values_list("evidence_id", flat=True))}

    def act(self) -> Finding:
        """Rest."""
        return rest_finding_on(finding_id=self.record.pk, actor=self.actor, version=self.seen, **self.values())


@move_form("finding", "state-position", label="Say where you stand", button="Put it on record")
class PositionForm(MoveForm[Finding]):
    """Takes a member's position."""

    done = "Where you stand is on record."

    stand = forms.ChoiceField(label="You", choices=Concurrence.Stand.choices, widget=forms.RadioSelect)
    text = words(
        "In your words", required=False, help_text="A dissent gives its grounds; it is shown with the finding."
    )
    wording = forms.IntegerField(widget=forms.HiddenInput)

    @classmethod
    def start(cls, record: Finding, actor: User) -> dict[str, Any]:
        """Start from the position before."""
        before = record.concurrences.filter(member=actor).first()
        given = {"stand": before.stand, "text": before.text} if before else {}
        return given | {"wording": record.wording}

    def describe(self) -> str:
        """Return the finding."""
        return self.record.statement

    def act(self) -> Any:
        """State it, on the wording that was read."""
        state_position(finding_id=self.record.pk, actor=self.actor, **self.values())


@move_form("finding", "adopt", label="Adopt", button="Sign and adopt")
class AdoptForm(MoveForm[Finding]):
    """Adopts a finding under a signature."""

    versioned = True
    signed = True
    done = "The finding is adopted."

    def describe(self) -> str:
        """Return the finding."""
        return self.record.statement

    def act(self) -> Finding:
        """Adopt."""
        return adopt_finding(finding_id=self.record.pk, actor=self.actor, version=self.seen, proof=self.proof)


@move_form("finding", "send-back", label="Back to the board", button="Send it back")
class SendBackFindingForm(MoveForm[Finding]):
    """Puts an adopted finding before the board again."""

    intro = "The signature and the positions stay on record."
    done = "The finding is before the board again."

    reason = words("Why", rows=3)

    def act(self) -> Finding:
        """Send back."""
        return send_back_finding(finding_id=self.record.pk, actor=self.actor, **self.values())


@move_form("finding", "withdraw", label="Withdraw", button="Withdraw the finding")
class WithdrawFindingForm(MoveForm[Finding]):
    """Withdraws a finding."""

    intro = "It stays on record, and doesn't count any more."
    done = "The finding is withdrawn."

    reason = words("Why", rows=3)

    def act(self) -> Finding:
        """Withdraw."""
        return withdraw_finding(finding_id=self.record.pk, actor=self.actor, **self.values())
