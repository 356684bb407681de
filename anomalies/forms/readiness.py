"""Moves of readiness reviews: the poll, the verdict, waivers, and what was done of what the kind asks for."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import timedelta
from functools import partial
from typing import Any, ClassVar, TypeVar

from django import forms
from django.contrib.auth.models import User

from anomalies.clock import now
from anomalies.models import (
    Activity,
    Fulfilment,
    PollAnswer,
    PollPosition,
    ReadinessReview,
    ReadinessSnapshot,
    Verdict,
    Waiver,
)
from anomalies.reads.readiness.checklist import Checklist, read_checklist
from anomalies.risk import Probability, Severity
from anomalies.services.readiness import (
    answer_poll,
    conclude_review,
    drop_from_poll,
    open_review,
    resume_review,
    set_position,
    settle_condition,
)
from anomalies.services.requirements import record_fulfilment, withdraw_fulfilment
from anomalies.services.waivers import grant_waiver, withdraw_waiver
from anomalies.states import ActivityState
from anomalies.web.fields import MomentField, PersonField, line, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form
from config.kit.errors import Refused

S = TypeVar("S")
SPEAKER: Mapping[str, str] = {"person": "person_id"}


def find_list(activity: Activity) -> Checklist:
    """Return the list of an activity as it is now."""
    return read_checklist(activity, ReadinessReview.objects.filter(activity=activity).first())


class PlannedForm(MoveForm[Activity]):
    """Base of what is done for the review of an activity that hasn't begun."""

    @classmethod
    def suits(cls, record: Activity) -> bool:
        """Only before it begins."""
        return record.state == ActivityState.PLANNED

    def goes_to(self, result: Any) -> str:
        """Back to the page of readiness."""
        return f"/readiness/{self.record.pk}/"


@move_form(
    "activity",
    "open-review",
    move="",
    rule="readiness_review.open",
    label="Open the readiness review",
    button="Open it",
    section="readiness",
)
class OpenReviewForm(PlannedForm):
    """Opens the review."""

    intro = "The list makes itself from the records; the positions that this kind of activity asks are polled."
    done = "The review is open."

    @classmethod
    def suits(cls, record: Activity) -> bool:
        """Only where there is none yet."""
        return super().suits(record) and not ReadinessReview.objects.filter(activity=record).exists()

    def act(self) -> ReadinessReview:
        """Open."""
        return open_review(activity_id=self.record.pk, actor=self.actor)


class PollForm(PlannedForm):
    """Base of what sets the poll."""

    @classmethod
    def suits(cls, record: Activity) -> bool:
        """Not once a round has ended."""
        review = ReadinessReview.objects.filter(activity=record).first()
        return super().suits(record) and review is not None and review.state == "under_way"


@move_form(
    "activity",
    "set-position",
    move="",
    rule="poll_position.set",
    label="Name a position",
    button="Save",
    section="poll",
)
class SetPositionForm(PollForm):
    """Asks a position in the poll, and says who speaks for it."""

    columns: ClassVar[Mapping[str, str]] = SPEAKER
    done = "The poll asks this position."

    name = line("Position", most=80, help_text="Like: life support. One that is asked already gets another speaker.")
    person = PersonField("Who speaks for it", required=False)

    def act(self) -> PollPosition:
        """Set."""
        return set_position(activity_id=self.record.pk, actor=self.actor, **self.values())


@move_form(
    "activity",
    "drop-position",
    move="",
    rule="poll_position.set",
    label="Drop a position",
    button="Drop it",
    section="poll",
)
class DropPositionForm(PollForm):
    """Takes a position out of the poll."""

    done = "The poll doesn't ask it any more."

    name = forms.ChoiceField(label="Position")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = self.record.positions.filter(active=True).values_list("name", flat=True)
        self.fields["name"].choices = [(name, name) for name in rows]  # type: ignore[attr-defined]  # a choice field

    def act(self) -> None:
        """Drop."""
        drop_from_poll(activity_id=self.record.pk, actor=self.actor, name=self.cleaned_data["name"])


@move_form(
    "activity",
    "record-fulfilment",
    move="",
    rule="fulfilment.record",
    label="Record a fit check, training or rehearsal",
    button="Record it",
    section="readiness",
)
class RecordFulfilmentForm(PlannedForm):
    """Records that something which the kind of activity asks for was done."""

    done = "It is recorded."

    asked = forms.ChoiceField(label="What was done")
    done_at = MomentField("When")
    note = words("How it went, and where its record is", rows=3)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        items = [item for item in find_list(self.record).items if item.kind == "requirement" and item.standing != "met"]
        choices = [(item.key, item.title) for item in items]
        self.fields["asked"].choices = choices  # type: ignore[attr-defined]  # a choice field

    @classmethod
    def suits(cls, record: Activity) -> bool:
        """Only where the kind asks for something."""
        return super().suits(record) and any(item.kind == "requirement" for item in find_list(record).open)

    def act(self) -> Fulfilment:
        """Record."""
        parts = self.cleaned_data["asked"].split("-")
        of: dict[str, Any] = {f"{name}_id": int(key) for name, key in zip(parts[2::2], parts[3::2], strict=True)}
        given = {name: self.cleaned_data[name] for name in ("done_at", "note")}
        return record_fulfilment(
            actor=self.actor, activity_id=self.record.pk, requirement_id=int(parts[1]), **given, **of
        )


@move_form("fulfilment", "withdraw", label="Withdraw", button="Withdraw it")
class WithdrawFulfilmentForm(MoveForm[Fulfilment]):
    """Takes back that something was done."""

    done = "It doesn't count any more."

    reason = words("Why", rows=2)

    def act(self) -> Fulfilment:
        """Withdraw."""
        return withdraw_fulfilment(fulfilment_id=self.record.pk, actor=self.actor, **self.cleaned_data)


@move_form(
    "activity",
    "grant-waiver",
    move="",
    rule="waiver.grant",
    label="Accept an open item",
    button="Sign the waiver",
    section="readiness",
)
class GrantWaiverForm(PlannedForm):
    """Accepts an open item as it is."""

    signed = True
    intro = "The number of the anomaly's fault tree, with its range, is kept beside the risk you state."
    done = "The item is accepted until the waiver expires."

    item = forms.ChoiceField(label="Open item")
    reason = words("Why it may stay open", rows=3)
    severity = forms.TypedChoiceField(label="Severity that remains", choices=Severity.choices, coerce=int)
    probability = forms.ChoiceField(label="Probability that remains", choices=Probability.choices)
    expires_at = MomentField("Expires")
    carries = forms.BooleanField(label="It holds for later activities too, until it expires", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(item.key, item.title) for item in find_list(self.record).open if item.kind != "condition"]
        self.fields["item"].choices = choices  # type: ignore[attr-defined]  # a choice field

    @classmethod
    def start(cls, record: Activity, actor: User) -> dict[str, Any]:
        """It must hold until the activity ends, at least."""
        return {"expires_at": max(record.planned_end, now() + timedelta(days=1))}

    @classmethod
    def suits(cls, record: Activity) -> bool:
        """Only where something is open."""
        return super().suits(record) and bool(find_list(record).open)

    def act(self) -> Waiver:
        """Grant."""
        given = {name: self.cleaned_data[name] for name in ("item", "reason", "severity", "probability")}
        given |= {name: self.cleaned_data[name] for name in ("expires_at", "carries")}
        return grant_waiver(activity_id=self.record.pk, actor=self.actor, proof=self.proof, **given)


@move_form("waiver", "withdraw", label="Withdraw", button="Withdraw it")
class WithdrawWaiverForm(MoveForm[Waiver]):
    """Takes a waiver back."""

    done = "The waiver is withdrawn; its item is open again."

    reason = words("Why", rows=2)

    def act(self) -> Waiver:
        """Withdraw."""
        return withdraw_waiver(waiver_id=self.record.pk, actor=self.actor, **self.cleaned_data)


class ListForm(forms.Form):
    """Carries the list that the person read, so that nobody signs another one."""

    list_hash = forms.CharField(widget=forms.HiddenInput(attrs={"data-fresh": ""}), max_length=64)

    def sign_list(self, activity: Activity, sign: Callable[[], S]) -> S:
        """Return what the service returns; if the list changed, carry the new one for the next try."""
        try:
            return sign()
        except Refused as error:
            if error.code == "list_changed":
                self.data = self.data.copy()  # type: ignore[attr-defined]  # a form's data
                self.data["list_hash"] = find_list(activity).hash  # type: ignore[index]
            raise


def say_list(found: Checklist) -> str:
    """Return what the signature is for, in a sentence."""
    counts = found.counts
    told = ", ".join(f"{counts[each]} {each}" for each in ("met", "accepted", "open"))
    return f"You sign for the list as it is now: {told}."


@move_form("poll_position", "answer", move="", rule="poll_position.answer", label="Answer", button="Sign the answer")
class AnswerForm(ListForm, MoveForm[PollPosition]):
    """Speaks for a position in the poll."""

    signed = True
    done = "Your answer is signed."

    stand = forms.ChoiceField(label="What you say", choices=PollAnswer.Stand.choices, widget=forms.RadioSelect)
    text = words("The condition, or why it's no-go", required=False, rows=3)

    @classmethod
    def suits(cls, record: PollPosition) -> bool:
        """Only while a round is under way."""
        review = ReadinessReview.objects.filter(activity=record.activity_id).first()
        return record.active and review is not None and review.state == "under_way"

    @classmethod
    def start(cls, record: PollPosition, actor: User) -> dict[str, Any]:
        """Carry the list."""
        return {"list_hash": find_list(record.activity).hash}

    def describe(self) -> str:
        """Say what is signed."""
        return f"For {self.record.name}. {say_list(find_list(self.record.activity))}"

    def act(self) -> PollAnswer:
        """Answer."""
        given = {name: self.cleaned_data[name] for name in ("stand", "text", "list_hash")}
        keys: dict[str, Any] = {"position_id": self.record.pk, "actor": self.actor, "proof": self.proof}
        return self.sign_list(self.record.activity, partial(answer_poll, **keys, **given))


@move_form(
    "poll_answer",
    "settle",
    move="",
    rule="poll_answer.settle",
    label="Record that the condition is met",
    button="It is met",
)
class SettleForm(MoveForm[PollAnswer]):
    """Records that a position's condition is met."""

    done = "The condition is met."

    note = words("What shows it", rows=2)

    @classmethod
    def suits(cls, record: PollAnswer) -> bool:
        """Only for a condition that waits."""
        waits = record.stand == PollAnswer.Stand.CONDITION and not record.settled_at and not record.overtaken_at
        return waits and record.review.state == "under_way" and record.review.round == record.round

    def act(self) -> PollAnswer:
        """Settle."""
        return settle_condition(answer_id=self.record.pk, actor=self.actor, **self.cleaned_data)


@move_form("readiness_review", "conclude", label="Sign the verdict", button="Sign the verdict")
class ConcludeForm(ListForm, MoveForm[ReadinessReview]):
    """Ends the round with a verdict."""

    signed = True
    done = "The verdict is signed, and the snapshot is kept."

    verdict = forms.ChoiceField(label="Verdict", choices=Verdict.choices, widget=forms.RadioSelect)
    reason = words("Why it's no-go", required=False, rows=3)

    @classmethod
    def start(cls, record: ReadinessReview, actor: User) -> dict[str, Any]:
        """Carry the list."""
        return {"list_hash": find_list(record.activity).hash}

    def describe(self) -> str:
        """Say what is signed."""
        return say_list(find_list(self.record.activity))

    def act(self) -> ReadinessSnapshot:
        """Conclude."""
        given = {name: self.cleaned_data[name] for name in ("verdict", "reason", "list_hash")}
        keys: dict[str, Any] = {"review_id": self.record.pk, "actor": self.actor, "proof": self.proof}
        return self.sign_list(self.record.activity, partial(conclude_review, **keys, **given))

    def goes_to(self, result: Any) -> str:
        """Back to the page of readiness."""
        return self.record.get_absolute_url()


@move_form("readiness_review", "resume", label="Begin another round", button="Begin it")
class ResumeForm(MoveForm[ReadinessReview]):
    """Begins another round."""

    intro = "Every position is asked again. The snapshot of the round that ended stays."
    done = "Another round is under way."

    reason = words("Why", rows=2)

    def act(self) -> ReadinessReview:
        """Resume."""
        return resume_review(review_id=self.record.pk, actor=self.actor, **self.cleaned_data)
