"""Moves of evidence: each kind has a form of its own that asks for what this kind needs and nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeVar

from django import forms
from django.contrib.auth.models import User

from anomalies.models import Anomaly, Evidence
from anomalies.models.base import Record
from anomalies.services.evidence import (
    add_evidence,
    add_files,
    describe_evidence,
    withdraw_evidence,
)
from anomalies.states import ANOMALY
from anomalies.web.fields import MomentField, line, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form
from config.kit.errors import DomainError

R = TypeVar("R", bound=Record)
CHOOSE_AGAIN = "Choose the file again: browsers don't keep it when a form comes back."


class FilesInput(forms.FileInput):
    """Lets several files be chosen."""

    allow_multiple_selected = True


class FilesField(forms.FileField):
    """Any number of files, at least one if it's required; cleans to a list."""

    widget = FilesInput

    def clean(self, data: Any, initial: Any = None) -> list[Any]:
        """Return the files that were sent."""
        clean_one = super().clean
        sent = data if isinstance(data, Sequence) and not isinstance(data, str) else [data]
        return [clean_one(each, initial) for each in sent] if sent else [clean_one(None, initial)]


def one_file(label: str, *, required: bool = True, accept: str = "", help_text: str = "") -> forms.FileField:
    """A file; an empty one is let through, because the service says better what is wrong with it."""
    widget = forms.FileInput(attrs={"accept": accept} if accept else {})
    return forms.FileField(label=label, required=required, help_text=help_text, widget=widget, allow_empty_file=True)


class AddForm(MoveForm[Anomaly]):
    """Base of the forms that add evidence."""

    done = "The evidence was added."

    def _show(self, error: DomainError) -> None:
        super()._show(error)
        self._ask_for_file_again()

    def full_clean(self) -> None:
        """Say that the file must be chosen again where something else is wrong."""
        super().full_clean()
        self._ask_for_file_again()

    def _ask_for_file_again(self) -> None:
        if "file" in self.fields and self.files.getlist("file") and self.errors and not self.has_error("file", "again"):
            self.add_error("file", forms.ValidationError(CHOOSE_AGAIN, code="again"))


@move_form("anomaly", "add-photographs", move="gather", label="Add photographs", section="evidence")
class AddPhotographsForm(AddForm):
    """Adds pictures; each is a piece of evidence of its own."""

    file = FilesField(
        label="Pictures",
        help_text="PNG, JPEG, GIF or WebP; several at once if you like. On a phone this offers the camera too.",
        widget=FilesInput(attrs={"accept": "image/*"}),
        allow_empty_file=True,
    )
    title = line("What they show", required=False, help_text="Left empty, each is called as its file is.")
    description = words("Description", required=False, rows=3)
    taken_at = MomentField("Taken at", required=False)

    def act(self) -> Anomaly:
        """Add them; the person stays on the dossier."""
        given = self.values("title", "description", "taken_at")
        files = self.cleaned_data["file"]
        add_files(anomaly_id=self.record.pk, actor=self.actor, kind=Evidence.Kind.PHOTOGRAPH, files=files, **given)
        return self.record

    def goes_to(self, result: Any) -> str:
        """Back to the evidence on the dossier."""
        return f"{self.record.get_absolute_url()}#evidence"


@move_form("anomaly", "add-documents", move="gather", label="Add documents", section="evidence")
class AddDocumentsForm(AddPhotographsForm):
    """Adds files of any type; each is a piece of evidence of its own."""

    intro = "Any file. It's only ever handed out for saving; pages never show or run it."

    file = FilesField(label="Files", help_text="Several at once if you like.", allow_empty_file=True)
    title = line("Title", required=False, help_text="Left empty, each is called as its file is.")
    taken_at = MomentField("Written at", required=False)

    def act(self) -> Anomaly:
        """Add them."""
        given = self.values("title", "description", "taken_at")
        files = self.cleaned_data["file"]
        add_files(anomaly_id=self.record.pk, actor=self.actor, kind=Evidence.Kind.DOCUMENT, files=files, **given)
        return self.record


@move_form("anomaly", "add-statement", move="gather", label="Add statement", section="evidence")
class AddStatementForm(AddForm):
    """Adds what somebody said, in words or as a file."""

    intro = "In the words of the person, or as a file that holds them: a letter, a recorded page."

    stated_by = line("Who states it")
    title = line("Title", help_text="Such as: what EV2 saw at the coupling.")
    statement = words("Statement", required=False, rows=8)
    file = one_file("Or a file", required=False, help_text="Text, a PDF document or a picture of the page.")
    taken_at = MomentField("Given at", required=False)

    def act(self) -> Evidence:
        """Add it."""
        return add_evidence(anomaly_id=self.record.pk, actor=self.actor, kind=Evidence.Kind.STATEMENT, **self.values())


@move_form("anomaly", "add-telemetry", move="gather", label="Add telemetry", section="evidence")
class AddTelemetryForm(AddForm):
    """Adds a series of measured values."""

    intro = "One quantity over time. Spans out of its limits are found, drawn, and put on the timeline."

    title = line("Quantity", help_text="Such as: coolant temperature, umbilical B, vehicle side.")
    unit = line("Unit", most=40, help_text="Such as °C. Nothing is converted.")
    file = one_file(
        "CSV file",
        accept=".csv,.txt,text/csv,text/plain",
        help_text="A time and a value on each line, in the order of time: 2031-04-05T09:30:00Z,21.5. "
        "Mission times such as T+012/04:33:10 work too where there's a mission clock.",
    )
    low = forms.FloatField(label="Low limit", required=False, help_text="A value at a limit is within it.")
    high = forms.FloatField(label="High limit", required=False)
    description = words("Where it was measured, and how", required=False, rows=3)

    def act(self) -> Evidence:
        """Add it."""
        return add_evidence(anomaly_id=self.record.pk, actor=self.actor, kind=Evidence.Kind.TELEMETRY, **self.values())


@move_form("anomaly", "add-web-link", move="gather", label="Add link", section="evidence")
class AddWebLinkForm(AddForm):
    """Adds the address of something that is kept elsewhere."""

    intro = "For what is kept elsewhere. What stands there may change: add a document where the content matters."

    address = line("Address", most=1000, help_text="Starts with http:// or https://.")
    title = line("Title")
    description = words("What is to be found there", required=False, rows=3)

    def act(self) -> Evidence:
        """Add it."""
        return add_evidence(anomaly_id=self.record.pk, actor=self.actor, kind=Evidence.Kind.LINK, **self.values())


class EvidenceForm(MoveForm[Evidence]):
    """Base of the moves of a piece of evidence: none is offered once its anomaly takes no more."""

    @classmethod
    def suits(cls, record: Evidence) -> bool:
        """The anomaly takes evidence."""
        return "gather" in ANOMALY.names_from(record.anomaly.state)


@move_form("evidence", "describe", label="Correct", button="Save")
class DescribeForm(EvidenceForm):
    """Corrects what is said about the evidence; what it holds stays."""

    versioned = True
    done = "The description was corrected."

    title = line("Title")
    description = words("Description", required=False)
    taken_at = MomentField("Taken at", required=False)
    low = forms.FloatField(label="Low limit", required=False, help_text="A value at a limit is within it.")
    high = forms.FloatField(label="High limit", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.record.kind != Evidence.Kind.TELEMETRY:
            del self.fields["low"], self.fields["high"]

    @classmethod
    def start(cls, record: Evidence, actor: User) -> dict[str, Any]:
        """Return what is said now."""
        return {name: getattr(record, name) for name in ("title", "description", "taken_at", "low", "high")}

    def act(self) -> Evidence:
        """Correct it."""
        changes = self.values()
        return describe_evidence(evidence_id=self.record.pk, actor=self.actor, version=self.seen, changes=changes)


@move_form("evidence", "withdraw", label="Withdraw", button="Withdraw it")
class WithdrawEvidenceForm(EvidenceForm):
    """Says that the evidence doesn't count any more."""

    intro = "It stays on record with its file, marked as withdrawn, and can still be opened."
    done = "The evidence was withdrawn."

    reason = words("Why it doesn't count any more", rows=3)

    def act(self) -> Evidence:
        """Withdraw it."""
        return withdraw_evidence(evidence_id=self.record.pk, actor=self.actor, reason=self.cleaned_data["reason"])
