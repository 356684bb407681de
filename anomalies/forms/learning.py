"""Moves of learning: failure modes, occurrences, exposure, and values that experience proposes."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from typing import Any, ClassVar

from django import forms
from django.contrib.auth.models import User

from anomalies.clock import now
from anomalies.models import (
    Activity,
    Anomaly,
    ExposureEntry,
    FailureMode,
    HardwareType,
    Measure,
    Occurrence,
    ParameterUpdate,
)
from anomalies.reads.exposure import COUNTED, OVER
from anomalies.services.exposure import COLUMNS, enter_exposure, import_exposure, withdraw_exposure
from anomalies.services.learning import (
    accept_update,
    add_failure_mode,
    edit_failure_mode,
    name_failure_mode,
    propose_update,
    refuse_update,
    take_back_failure_mode,
    withdraw_update,
)
from anomalies.web.fields import MomentField, RecordField, line, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form, new_form
from faulttree.facade import list_shared

PRIORS = (
    ("library", "What the library says now"),
    ("jeffreys", "Jeffreys: nothing is known"),
    ("constrained", "Constrained noninformative: only a mean is known"),
    ("gamma", "Gamma, by shape and rate"),
    ("beta", "Beta, by its two parameters"),
    ("lognormal", "Lognormal, by mean and error factor"),
)
MODE_COLUMNS: Mapping[str, str] = {"hardware_type": "hardware_type_id", "item": "item_id"}


class SharedField(forms.ModelChoiceField):  # type: ignore[type-arg]  # no generic at run time
    """An item of the library."""

    def label_from_instance(self, obj: Any) -> str:
        """Show kind and name."""
        return f"{obj.get_kind_display()}: {obj.name}"


class ModeFields(forms.Form):
    """What every form of a failure mode asks."""

    hardware_type = RecordField("Type of hardware", HardwareType.objects.all(), empty="Choose a type")
    code = line("Code", most=60, help_text="Short and yours, like QDC-WEEP.")
    name = line("The failure mode", help_text="Like: seal of the quick disconnect weeps.")
    measure = forms.ChoiceField(label="Exposure is counted in", choices=Measure.choices)
    item = SharedField(
        list_shared(),
        label="Shared value it informs",
        required=False,
        empty_label="None yet",
        help_text="Hours inform a rate per hour; outings, cycles and demands a probability.",
    )


@new_form(
    "failure_mode", label="Add a failure mode", button="Add it", rule="failure_mode.add", back="anomalies:learning"
)
class AddModeForm(ModeFields, MoveForm[FailureMode]):
    """Adds a failure mode."""

    columns: ClassVar[Mapping[str, str]] = MODE_COLUMNS
    done = "The failure mode is on the list."

    def act(self) -> FailureMode:
        """Add."""
        return add_failure_mode(actor=self.actor, **self.values())


@move_form("failure_mode", "edit", move="", rule="failure_mode.edit", label="Edit", button="Save")
class EditModeForm(ModeFields, MoveForm[FailureMode]):
    """Puts a failure mode otherwise."""

    versioned = True
    columns: ClassVar[Mapping[str, str]] = MODE_COLUMNS

    @classmethod
    def start(cls, record: FailureMode, actor: User) -> dict[str, Any]:
        """Start from what is there."""
        plain = {name: getattr(record, name) for name in ("code", "name", "measure")}
        return plain | {"hardware_type": record.hardware_type_id, "item": record.item_id}

    def act(self) -> FailureMode:
        """Edit."""
        return edit_failure_mode(
            failure_mode_id=self.record.pk, actor=self.actor, version=self.seen, changes=self.values()
        )


@move_form(
    "anomaly",
    "name-failure-mode",
    move="",
    rule="occurrence.name",
    label="Name its failure mode",
    button="Name it",
    section="causes",
)
class NameModeForm(MoveForm[Anomaly]):
    """Says which failure mode the anomaly is an occurrence of."""

    columns: ClassVar[Mapping[str, str]] = {"failure_mode": "failure_mode_id"}
    intro = "Occurrences and exposure together update the numbers of the fault trees."
    done = "The occurrence counts."

    failure_mode = RecordField("Failure mode", FailureMode.objects.all(), empty="Choose one")
    count = forms.IntegerField(label="How many times", min_value=1, initial=1)
    note = words("Note", required=False, rows=2)

    @classmethod
    def suits(cls, record: Anomaly) -> bool:
        """It is reported, open or closed."""
        return record.state in COUNTED

    def act(self) -> Anomaly:
        """Name."""
        name_failure_mode(anomaly_id=self.record.pk, actor=self.actor, **self.values())
        return self.record


@move_form(
    "anomaly",
    "take-back-failure-mode",
    move="",
    rule="occurrence.name",
    label="Take a failure mode back",
    button="Take it back",
    section="causes",
)
class TakeBackForm(MoveForm[Anomaly]):
    """Takes a failure mode back."""

    columns: ClassVar[Mapping[str, str]] = {"failure_mode": "failure_mode_id"}
    done = "It doesn't count as an occurrence any more."

    failure_mode = RecordField("Failure mode", FailureMode.objects.none(), empty="Choose one")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        named = Occurrence.objects.filter(anomaly=self.record, active=True).values("failure_mode")
        rows = FailureMode.objects.filter(pk__in=named)
        self.fields["failure_mode"].queryset = rows  # type: ignore[attr-defined]

    @classmethod
    def suits(cls, record: Anomaly) -> bool:
        """It names one."""
        return record.occurrences.filter(active=True).exists()

    def act(self) -> Anomaly:
        """Take back."""
        return take_back_failure_mode(anomaly_id=self.record.pk, actor=self.actor, **self.values())


@move_form("hardware_type", "enter-exposure", move="", rule="exposure.enter", label="Enter exposure", button="Enter it")
class EnterForm(MoveForm[HardwareType]):
    """Enters how much a type was used."""

    columns: ClassVar[Mapping[str, str]] = {"activity": "activity_id", "since": "start", "until": "end"}
    intro = (
        "Hours and outings of activities are counted by themselves. Enter what they can't know: ground tests, cycles, "
        "demands. An entry that names an activity stands in place of what would be counted from it."
    )
    done = "The exposure counts."

    measure = forms.ChoiceField(label="Measure", choices=Measure.choices)
    amount = forms.FloatField(label="Amount, all items together", min_value=0.0)
    since = MomentField("From")
    until = MomentField("To")
    activity = RecordField("In place of an activity", Activity.objects.none(), required=False, empty="None")
    source = line("Where the figure comes from", most=300)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        used = Activity.objects.filter(
            state__in=OVER, hardware_uses__active=True, hardware_uses__item__type=self.record
        )
        self.fields["activity"].queryset = used.distinct()  # type: ignore[attr-defined]

    def act(self) -> HardwareType:
        """Enter."""
        enter_exposure(actor=self.actor, hardware_type_id=self.record.pk, **self.values())
        return self.record


@move_form(
    "hardware_type", "import-exposure", move="", rule="exposure.enter", label="Import exposure", button="Import it"
)
class ImportForm(MoveForm[HardwareType]):
    """Enters many lines at once."""

    intro = f"Paste a CSV table; its first line names the columns: {', '.join(COLUMNS)}. All lines count, or none."
    done = "Every line is in the log."

    table = words("Table", rows=10)

    @classmethod
    def start(cls, record: HardwareType, actor: User) -> dict[str, Any]:
        """Start with a head and an example."""
        end = now().date()
        example = f"{record.part_number},cycles,120,{end - timedelta(days=30)},{end},Bench log"
        return {"table": f"{','.join(COLUMNS)}\n{example}"}

    def act(self) -> HardwareType:
        """Import."""
        import_exposure(actor=self.actor, table=self.cleaned_data["table"])
        return self.record


@move_form("exposure", "withdraw", label="Withdraw", button="Withdraw it")
class WithdrawExposureForm(MoveForm[ExposureEntry]):
    """Takes an entry back."""

    done = "The entry doesn't count any more."

    reason = words("Why", rows=3)

    def act(self) -> ExposureEntry:
        """Withdraw."""
        return withdraw_exposure(exposure_id=self.record.pk, actor=self.actor, **self.values())


@move_form(
    "failure_mode",
    "propose-update",
    move="",
    rule="parameter_update.propose",
    label="Propose a value from experience",
    button="Propose it",
)
class ProposeForm(MoveForm[FailureMode]):
    """Proposes what prior and experience give together."""

    layout = "anomalies/learning/_prior_fields.html"
    intro = "Nothing of the library changes until the proposal is accepted; its page lists every tree that would move."
    done = "The value is proposed: look at what it would move, then accept or refuse it."

    prior = forms.ChoiceField(label="Prior", choices=PRIORS, widget=forms.RadioSelect, initial="library")
    mean = forms.FloatField(label="Mean", required=False, min_value=0.0)
    error_factor = forms.FloatField(label="Error factor, at 95 %", required=False, min_value=1.0)
    a = forms.FloatField(label="Shape, or first parameter", required=False, min_value=0.0)
    b = forms.FloatField(label="Rate in units of exposure, or second parameter", required=False, min_value=0.0)
    prior_source = words(
        "Where the prior comes from", required=False, rows=2, help_text="Empty: the source that the library names."
    )
    note = words("Note", required=False, rows=2)

    @classmethod
    def suits(cls, record: FailureMode) -> bool:
        """It informs something."""
        return record.item_id is not None

    def act(self) -> ParameterUpdate:
        """Propose."""
        data = self.cleaned_data
        return propose_update(
            failure_mode_id=self.record.pk,
            actor=self.actor,
            prior=data["prior"],
            note=data["note"],
            prior_source=data["prior_source"],
            numbers={name: data[name] for name in ("mean", "error_factor", "a", "b")},
        )


class DecideForm(MoveForm[ParameterUpdate]):
    """Base of the three decisions."""

    service: ClassVar[Any]

    note = words("Why", rows=3)

    def act(self) -> ParameterUpdate:
        """Decide."""
        decide = type(self).service
        decided: ParameterUpdate = decide(update_id=self.record.pk, actor=self.actor, **self.values())
        return decided


@move_form("parameter_update", "accept", label="Accept", button="Accept the value")
class AcceptForm(DecideForm):
    """Takes the value into the library."""

    service = staticmethod(accept_update)
    intro = "The library gets a new data set with this value; every tree that uses it moves."
    done = "The library has the value."


@move_form("parameter_update", "refuse", label="Refuse", button="Refuse the value")
class RefuseForm(DecideForm):
    """Leaves the library as it is."""

    service = staticmethod(refuse_update)
    done = "The value is refused; the library stays as it is."


@move_form("parameter_update", "withdraw", label="Withdraw", button="Withdraw the proposal")
class WithdrawUpdateForm(DecideForm):
    """Takes the proposal back."""

    service = staticmethod(withdraw_update)
    done = "The proposal is withdrawn."
