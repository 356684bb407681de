"""Moves of lessons: written, placed, issued, taken up or declined where they're offered."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, ClassVar

from django import forms
from django.contrib.auth.models import User

from anomalies.models import (
    Activity,
    Anomaly,
    Cause,
    CorrectiveAction,
    HardwareType,
    Lesson,
    LessonUse,
    Procedure,
    ProcedureRevision,
    Requirement,
)
from anomalies.models.base import Record
from anomalies.reads.lessons.offers import TAKING, WORKED_ON, name_place
from anomalies.services.lesson_uses import decide_lesson, tie_lesson_use, withdraw_lesson_use
from anomalies.services.lessons import (
    OVER,
    edit_lesson,
    issue_lesson,
    place_lesson,
    restore_lesson,
    retire_lesson,
    unplace_lesson,
    write_lesson,
)
from anomalies.states import CauseState
from anomalies.web.fields import line, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form, new_form

Choices = list[tuple[str, list[tuple[str, str]]]]
COLUMNS = {
    "action": "changed_action_id",
    "activity": "activity_id",
    "anomaly": "anomaly_id",
    "hardware_type": "hardware_type_id",
    "kind": "activity_kind",
    "procedure": "procedure_id",
    "procedure_revision": "changed_revision_id",
    "requirement": "changed_requirement_id",
}
"""Kind in a choice -> what services call its key."""


def group(label: str, rows: Iterable[Record]) -> tuple[str, list[tuple[str, str]]]:
    """Return one group of choices, each named by kind and key."""
    return label, [(name_place(row), str(row)) for row in rows]


def read_choice(value: str) -> dict[str, Any]:
    """Return the key that a choice names, under the name that services give it."""
    kind, _, key = value.rpartition("-")
    return {COLUMNS[kind]: key if kind == "kind" else int(key)}


class ChosenField(forms.ChoiceField):
    """One record of several kinds; what can be chosen is read when the form is shown."""

    def __init__(self, label: str, choices: Callable[[], Choices], **more: Any) -> None:
        super().__init__(label=label, choices=lambda: [("", "Choose one"), *choices()], **more)


def list_origins() -> Choices:
    """What a lesson can be drawn from."""
    closed = Anomaly.objects.closed().order_by("-occurred_at")
    over = Activity.objects.filter(state__in=OVER).order_by("-planned_start")
    return [group("Closed anomalies", closed), group("Activities that are over", over)]


def list_applications() -> Choices:
    """What a lesson can apply to; a task is written out."""
    kinds = [(f"kind-{value}", f"Every {label.lower()}") for value, label in Activity.Kind.choices]
    return [
        group("Types of hardware", HardwareType.objects.order_by("name")),
        group("Procedures", Procedure.objects.order_by("number")),
        ("Kinds of activity", kinds),
    ]


def list_offering() -> Choices:
    """What a lesson can be offered for."""
    return [
        group("Activities to come", Activity.objects.filter(state__in=TAKING).order_by("planned_start")),
        group("Anomalies", Anomaly.objects.filter(state__in=WORKED_ON).order_by("-occurred_at")),
        group("Procedures", Procedure.objects.order_by("number")),
    ]


def list_changes() -> Choices:
    """What can have been changed for a lesson."""
    revisions = ProcedureRevision.objects.exclude(state="withdrawn").defer("steps").select_related("procedure")
    named = [(name_place(row), f"{row.procedure}, {row}") for row in revisions.order_by("procedure__number", "-number")]
    return [
        ("Revisions of procedures", named),
        group("What kinds of activity ask for", Requirement.objects.filter(state="in_use").order_by("pk")),
        group("Actions", CorrectiveAction.objects.exclude(state="dropped").order_by("-number")),
    ]


class LessonFields(forms.Form):
    """What every form of a lesson asks."""

    title = line("The lesson in one line", help_text="Like: push the collar home before turning the lock ring.")
    what_happened = words("What happened", rows=4)
    why = words("Why", rows=3)
    what_to_do = words("What to do differently", rows=4, help_text="Or what to do again, where it went well.")


@new_form("lesson", label="Write a lesson", button="Keep the draft", rule="lesson.add", back="anomalies:lessons")
class WriteLessonForm(LessonFields, MoveForm[Lesson]):
    """Writes one."""

    intro = "Somebody else reads the draft and issues it; then it is offered wherever it applies."
    done = "The draft is kept. Say where it applies, then somebody else issues it."

    field_order = ("origin", "title", "what_happened", "why", "what_to_do")
    origin = ChosenField("Drawn from", list_origins)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kind, _, key = str(self.initial.get("origin", "")).rpartition("-")
        if kind == "anomaly" and key.isdecimal() and not self.is_bound:
            self.initial = {**_draw_from(int(key)), **self.initial}

    def act(self) -> Lesson:
        """Write."""
        return write_lesson(actor=self.actor, **self.values(*LESSON_TEXTS), **read_choice(self.cleaned_data["origin"]))


LESSON_TEXTS = ("title", "what_happened", "why", "what_to_do")


def _draw_from(anomaly_id: int) -> dict[str, str]:
    """Return what the records of a closed anomaly say, to be edited."""
    anomaly = Anomaly.objects.closed().filter(pk=anomaly_id).first()
    if anomaly is None:
        return {}
    causes = anomaly.causes.filter(state=CauseState.CONFIRMED).exclude(kind=Cause.Kind.INTERMEDIATE)
    unexplained = f"Unexplained: {anomaly.unexplained_rationale}" if anomaly.unexplained_rationale else ""
    actions = anomaly.actions.filter(state__in=("verified", "effective"))
    return {
        "what_happened": anomaly.description or anomaly.title,
        "why": "\n".join(causes.order_by("position").values_list("statement", flat=True)) or unexplained,
        "what_to_do": "\n".join(actions.order_by("pk").values_list("title", flat=True)),
    }


@move_form("lesson", "edit", label="Edit", button="Save")
class EditLessonForm(LessonFields, MoveForm[Lesson]):
    """Says the draft otherwise."""

    versioned = True

    @classmethod
    def start(cls, record: Lesson, actor: User) -> dict[str, Any]:
        """Start from what is there."""
        return {name: getattr(record, name) for name in LESSON_TEXTS}

    def act(self) -> Lesson:
        """Edit."""
        changes = self.values(*LESSON_TEXTS)
        return edit_lesson(lesson_id=self.record.pk, actor=self.actor, version=self.seen, changes=changes)


@move_form("lesson", "issue", label="Issue", button="Sign and issue it")
class IssueLessonForm(MoveForm[Lesson]):
    """Issues a draft."""

    versioned = True
    signed = True
    intro = "From now on it is offered where it applies, and where its words are alike."
    done = "The lesson is issued."

    @classmethod
    def suits(cls, record: Lesson) -> bool:
        """Only one that says where it applies."""
        return record.places.filter(active=True).exists()

    def act(self) -> Lesson:
        """Issue."""
        return issue_lesson(lesson_id=self.record.pk, actor=self.actor, version=self.seen, proof=self.proof)


@move_form("lesson", "add-place", move="place", label="Say where it applies", button="Add", section="places")
class AddPlaceForm(MoveForm[Lesson]):
    """Adds something that the lesson applies to."""

    place = ChosenField("It applies to", list_applications, required=False)
    task = line("Or to a task, as activities name it", required=False, help_text="Like: Chill down.")

    def act(self) -> None:
        """Add."""
        chosen = self.cleaned_data["place"]
        given = (read_choice(chosen) if chosen else {}) | {"task": self.cleaned_data["task"]}
        place_lesson(lesson_id=self.record.pk, actor=self.actor, **given)


@move_form("lesson", "drop-place", move="place", label="Take a place off", button="Take it off", section="places")
class DropPlaceForm(MoveForm[Lesson]):
    """Takes something off that the lesson doesn't apply to."""

    columns: ClassVar[dict[str, str]] = {"place": "place_id"}
    place = forms.TypedChoiceField(label="It doesn't apply to", coerce=int)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = self.record.places.filter(active=True).select_related("hardware_type", "procedure")
        self.fields["place"].choices = [(row.pk, str(row)) for row in rows]  # type: ignore[attr-defined]  # a choice field

    @classmethod
    def suits(cls, record: Lesson) -> bool:
        """Only where there's one, and an issued one keeps its last."""
        return record.places.filter(active=True).count() > (1 if record.issued_at else 0)

    def act(self) -> None:
        """Take off."""
        unplace_lesson(lesson_id=self.record.pk, actor=self.actor, **self.values())


@move_form("lesson", "retire", label="Retire", button="Retire it")
class RetireLessonForm(MoveForm[Lesson]):
    """Offers it no more."""

    done = "Nobody is offered it any more."
    reason = words("Why", rows=2)

    def act(self) -> Lesson:
        """Retire."""
        return retire_lesson(lesson_id=self.record.pk, actor=self.actor, **self.cleaned_data)


@move_form("lesson", "restore", label="Take it up again", button="Make it a draft again")
class RestoreLessonForm(MoveForm[Lesson]):
    """Makes it a draft again."""

    done = "It is a draft again; somebody issues it anew."
    reason = words("Why", rows=2)

    def act(self) -> Lesson:
        """Restore."""
        return restore_lesson(lesson_id=self.record.pk, actor=self.actor, **self.cleaned_data)


class DecideForm(MoveForm[Lesson]):
    """Base of both decisions."""

    decision: ClassVar[str]
    place = ChosenField("For", list_offering)
    reason = words("Why", rows=2)

    def act(self) -> LessonUse:
        """Decide."""
        given = {"decision": self.decision, "reason": self.cleaned_data["reason"]}
        place = read_choice(self.cleaned_data["place"])
        return decide_lesson(lesson_id=self.record.pk, actor=self.actor, **given, **place)


@move_form("lesson", "accept", move="decide", label="Accept", button="Accept it", section="uses")
class AcceptLessonForm(DecideForm):
    """Takes it up."""

    decision = "accepted"
    intro = "Then change what it asks for, and tie it to the change: accepting alone changes nothing."
    done = "Accepted. Tie it to what is changed for it, once it is."


@move_form("lesson", "decline", move="decide", label="Decline", button="Decline it", section="uses")
class DeclineLessonForm(DecideForm):
    """Doesn't take it up."""

    decision = "declined"
    done = "Declined; the reason stands with the lesson."


@move_form("lesson_use", "tie", label="Tie to what was changed", button="Tie it")
class TieUseForm(MoveForm[LessonUse]):
    """Names what was changed for an accepted lesson."""

    changed = ChosenField("Changed for it", list_changes)

    @classmethod
    def suits(cls, record: LessonUse) -> bool:
        """Only an accepted one."""
        return record.decision == LessonUse.Decision.ACCEPTED

    def act(self) -> LessonUse:
        """Tie."""
        return tie_lesson_use(use_id=self.record.pk, actor=self.actor, **read_choice(self.cleaned_data["changed"]))


@move_form("lesson_use", "withdraw", label="Withdraw", button="Withdraw the decision")
class WithdrawUseForm(MoveForm[LessonUse]):
    """Takes a decision back."""

    done = "The decision doesn't count any more; the lesson is offered there again."
    reason = words("Why", rows=2)

    def act(self) -> LessonUse:
        """Withdraw."""
        return withdraw_lesson_use(use_id=self.record.pk, actor=self.actor, **self.cleaned_data)
