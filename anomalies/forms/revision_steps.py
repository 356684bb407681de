"""Edits of a draft's steps, one at a time. The page says in the address which step, or where a new one goes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms

from anomalies.errors import EditConflict
from anomalies.models import ProcedureRevision
from anomalies.models.procedure import STEP_FIELD
from anomalies.services.revision_steps import (
    READING_FIELDS,
    add_revision_step,
    change_revision_notice,
    change_revision_step,
    delete_revision_step,
    insert_revision_notice,
    move_revision_step,
    remove_revision_notice,
)
from anomalies.step_edits import find_branch, find_protected, find_step
from anomalies.steps import NoticeKind, Step, StepKind, Steps, number_steps
from anomalies.web.fields import line, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form
from config.kit.errors import BadInput

SECTION = "steps"
LAST = "last"
Revision = ProcedureRevision


class StepMove(MoveForm[Revision]):
    """Knows the step it's about by its key."""

    versioned = True

    step = forms.CharField(widget=forms.HiddenInput, required=False, max_length=64)

    def __init__(self, data: Any = None, files: Any = None, *, initial: Any = None, **kwargs: Any) -> None:
        given = data if data is not None else initial or {}
        self.key = str(given.get("step", ""))
        super().__init__(data, files, initial=initial, **kwargs)

    def step_of(self, revision: Revision) -> Step:
        """Return the step; raises BadInput if it isn't there (any more)."""
        return find_step(revision.read_steps(), self.key)

    def goes_to(self, result: Any) -> str:
        """Go to the step."""
        return f"{self.record.get_absolute_url()}#step-{self.key}"

    def given(self) -> dict[str, Any]:
        """Return what every service of steps takes."""
        return {"revision_id": self.record.pk, "actor": self.actor, "version": self.seen}

    def pick(self, stored: Mapping[str, Any]) -> dict[str, Any]:
        """Return the fields of what the form edits, out of stored steps by column; none if it edits nothing there."""
        return {}

    def _merge(self, error: EditConflict) -> None:
        """Compare the fields of what is edited; other people's changes to the rest are in nobody's way."""
        before, after = (
            self.pick({name: span[side] for name, span in error.theirs.items() if name.startswith(STEP_FIELD)})
            for side in ("before", "after")
        )
        names = before.keys() & after.keys()
        theirs = {name: {"before": before[name], "after": after[name]} for name in names if before[name] != after[name]}
        super()._merge(EditConflict(seen=error.seen, version=error.version, theirs=theirs, yours=error.yours))


def _flatten(stored: Any) -> dict[str, Any]:
    """Return a stored step as the fields of its form."""
    if not stored:
        return {}
    reading = stored["reading"] or dict.fromkeys(READING_FIELDS, "")
    return {"kind": stored["kind"], "text": stored["text"], **reading}


class StepFields(StepMove):
    """What a step says."""

    layout = "anomalies/procedures/_step_fields.html"

    kind = forms.ChoiceField(label="Kind", choices=StepKind.choices, initial=StepKind.DO)
    text = words("What to do", rows=3)
    expected = line("Expected reading, in words", required=False)
    low = line("Low limit", required=False, most=30)
    high = line("High limit", required=False, most=30)
    unit = line("Unit", required=False, most=20)

    def reading(self) -> dict[str, str] | None:
        """Return the reading as services take it; None if nothing is to be read."""
        reading = {name: self.cleaned_data[name] for name in READING_FIELDS}
        return reading if any(reading.values()) else None


@move_form("procedure_revision", "add-step", move="edit", label="Add a step", button="Add the step", section=SECTION)
class AddStepForm(StepFields):
    """Adds a step after another one, or below it."""

    done = "The step was added."

    parent = forms.CharField(widget=forms.HiddenInput, required=False, max_length=64)
    after = forms.CharField(widget=forms.HiddenInput, required=False, max_length=64, initial=LAST)

    def act(self) -> Revision:
        """Add it."""
        after = self.cleaned_data["after"]
        revision, self.key = add_revision_step(
            **self.given(),
            kind=self.cleaned_data["kind"],
            text=self.cleaned_data["text"],
            parent=self.cleaned_data["parent"],
            after=None if after == LAST else after,
            reading=self.reading(),
        )
        return revision


@move_form("procedure_revision", "change-step", move="edit", label="Edit step", button="Save", section=SECTION)
class ChangeStepForm(StepFields):
    """Puts a step otherwise."""

    done = "The step was changed."

    def begin(self, record: Revision) -> dict[str, Any]:
        """Begin with the step as it is; with nothing if it's gone."""
        try:
            step = self.step_of(record)
        except BadInput:
            return {}
        reading = {name: getattr(step.reading, name, "") for name in READING_FIELDS}
        return {"kind": step.kind, "text": step.text, **reading}

    def pick(self, stored: Mapping[str, Any]) -> dict[str, Any]:
        """Return those of the step."""
        return _flatten(stored.get(f"{STEP_FIELD}{self.key}"))

    def act(self) -> Revision:
        """Change it."""
        changes = {name: self.cleaned_data[name] for name in ("kind", "text")} | {"reading": self.reading()}
        return change_revision_step(**self.given(), key=self.key, changes=changes)


@move_form("procedure_revision", "move-step", move="edit", label="Move step", button="Move it", section=SECTION)
class MoveStepForm(StepMove):
    """Puts a step, with all that is under it, elsewhere."""

    done = "The step was moved."

    to = forms.ChoiceField(label="Where to")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["to"].choices = find_places(self.record.read_steps(), self.key)  # type: ignore[attr-defined]

    def describe(self) -> str:
        """Return the step."""
        steps = self.record.read_steps()
        return f"{number_steps(steps).get(self.key, '')} {find_step(steps, self.key).text}"

    def act(self) -> Revision:
        """Move it."""
        where, _, key = self.cleaned_data["to"].partition(":")
        if where == "after":
            parent = find_step(self.record.read_steps(), key).parent
            return move_revision_step(**self.given(), key=self.key, parent=parent, after=key)
        return move_revision_step(**self.given(), key=self.key, parent=key, after="" if where == "first" else None)


def find_places(steps: Steps, key: str) -> list[tuple[str, str]]:
    """Return where a step may go: first of all, after each other step, below each group; not within its own branch."""
    numbers = number_steps(steps)
    branch = find_branch(steps, key)
    places = [("first:", "First of all")]
    for step in steps:
        if step.key not in branch:
            words = f"{numbers[step.key]} {step.text[:70]}"
            places.append((f"after:{step.key}", f"after {words}"))
            if step.kind == StepKind.GROUP:
                places.append((f"first:{step.key}", f"first within {words}"))
    return places


@move_form("procedure_revision", "delete-step", move="edit", label="Delete step", button="Delete it", section=SECTION)
class DeleteStepForm(StepMove):
    """Takes a step out of the draft."""

    done = "The step was deleted from the draft."

    def describe(self) -> str:
        """Say what goes with it."""
        steps = self.record.read_steps()
        below = len(find_branch(steps, self.key)) - 1
        more = f", with {below} below it" if below else ""
        return f"{number_steps(steps)[self.key]} {find_step(steps, self.key).text}{more}. The revision before keeps it."

    def goes_to(self, result: Any) -> str:
        """Go to the steps."""
        return f"{self.record.get_absolute_url()}#steps"

    def act(self) -> Revision:
        """Delete it."""
        return delete_revision_step(**self.given(), key=self.key)


class NoticeFields(StepMove):
    """A warning, caution or note."""

    kind = forms.ChoiceField(
        label="Kind",
        choices=NoticeKind.choices,
        help_text="A warning is about people, a caution about hardware. It's read before the step.",
    )
    text = words("What to know before the step is done", rows=3)

    def notice(self) -> dict[str, Any]:
        """Return what services take."""
        return {name: self.cleaned_data[name] for name in ("kind", "text")}


@move_form("procedure_revision", "add-notice", move="edit", label="Add a warning", button="Add it", section=SECTION)
class AddNoticeForm(NoticeFields):
    """Puts a warning before a step."""

    done = "It stands before the step."

    def act(self) -> Revision:
        """Insert it."""
        revision, _ = insert_revision_notice(**self.given(), step_key=self.key, **self.notice())
        return revision


@move_form("procedure_revision", "change-notice", move="edit", label="Edit warning", button="Save", section=SECTION)
class ChangeNoticeForm(NoticeFields):
    """Puts a warning otherwise; `step` is the warning's key here."""

    done = "It was changed."

    def begin(self, record: Revision) -> dict[str, Any]:
        """Begin with what it says; with nothing if it's gone."""
        try:
            notices = find_protected(record.read_steps(), self.key).notices
        except BadInput:
            return {}
        return next({"kind": each.kind, "text": each.text} for each in notices if each.key == self.key)

    def pick(self, stored: Mapping[str, Any]) -> dict[str, Any]:
        """Return those of the warning, before whichever step it stands."""
        notices = [notice for step in stored.values() if step for notice in step["notices"]]
        return next(({"kind": each["kind"], "text": each["text"]} for each in notices if each["key"] == self.key), {})

    def goes_to(self, result: Any) -> str:
        """Go to the step it protects."""
        step = find_protected(result.read_steps(), self.key)
        return f"{self.record.get_absolute_url()}#step-{step.key}"

    def act(self) -> Revision:
        """Change it."""
        return change_revision_notice(**self.given(), key=self.key, **self.notice())


@move_form(
    "procedure_revision", "remove-notice", move="edit", label="Remove warning", button="Remove it", section=SECTION
)
class RemoveNoticeForm(StepMove):
    """Takes a warning away; `step` is the warning's key here."""

    done = "It was removed from the draft."

    def describe(self) -> str:
        """Return what it says."""
        notices = find_protected(self.record.read_steps(), self.key).notices
        return next(f"{NoticeKind(each.kind).label}: {each.text}" for each in notices if each.key == self.key)

    def goes_to(self, result: Any) -> str:
        """Go to the steps."""
        return f"{self.record.get_absolute_url()}#steps"

    def act(self) -> Revision:
        """Remove it."""
        return remove_revision_notice(**self.given(), key=self.key)
