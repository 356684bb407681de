"""Shape and range checks of page input; what spans records is the services' business."""

from __future__ import annotations

from typing import Any

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile

from config.kit.errors import BadInput
from faulttree.bridge import Request, TimeGrid
from faulttree.models import TreeRevision
from faulttree.services.runs import DEFAULT_LIST_COUNT, DEFAULT_SECONDS

MOST_LISTED = 10_000
MOST_SAMPLES = 1_000_000
MOST_TIMES = 2_000


class UploadForm(forms.Form):
    """A file in exchange XML, or in our plain JSON."""

    file = forms.FileField(
        label="Exchange file",
        help_text="Open-PSA exchange XML, or the plain JSON that this tool exports, which is kept as exchange XML. "
        "A file with mistakes is refused as a whole, and the mistakes are named.",
        widget=forms.ClearableFileInput(attrs={"accept": ".xml,.json,application/xml,text/xml,application/json"}),
    )
    note = forms.CharField(
        label="Note", max_length=500, required=False, help_text="What this revision is, in a sentence. Optional."
    )

    def clean_file(self) -> UploadedFile[Any]:
        """Refuse a file that is too large before it is read."""
        file: UploadedFile[Any] = self.cleaned_data["file"]
        if file.size is not None and file.size > settings.MODEL_MAX_BYTES:
            limit = settings.MODEL_MAX_BYTES / 2**20
            raise forms.ValidationError(f"The file is larger than {limit:g} MiB, the limit of this installation.")
        return file


class ImportForm(UploadForm):
    """A file that becomes a new tree."""

    name = forms.CharField(
        label="Name", max_length=200, required=False, help_text="Taken from the fault tree in the file where empty."
    )
    label = forms.CharField(
        label="Title", max_length=300, required=False, help_text="The undesired event in plain words. Optional."
    )
    field_order = ("file", "name", "label", "note")


class RunForm(forms.Form):
    """Everything that can be asked of a run; empty fields leave things out."""

    top = forms.ChoiceField(label="Top event", required=False)
    mission_time = forms.FloatField(
        label="Mission time, h",
        min_value=0.0,
        required=False,
        help_text="Hours. Needed where probabilities depend on it.",
    )
    list_count = forms.IntegerField(
        label="Cut sets to list",
        min_value=0,
        max_value=MOST_LISTED,
        required=False,
        help_text="The likeliest ones. All are counted, however many there are.",
    )
    max_order = forms.IntegerField(
        label="Largest order listed", min_value=1, required=False, help_text="Events per cut set. Empty: no limit."
    )
    min_probability = forms.FloatField(
        label="Least probability listed",
        min_value=0.0,
        max_value=1.0,
        required=False,
        help_text="From 0 to 1, for instance 1e-12. Cuts the list, never the count.",
    )
    samples = forms.IntegerField(
        label="Samples",
        min_value=0,
        max_value=MOST_SAMPLES,
        required=False,
        help_text="Draws of the uncertain parameters. Empty or 0: no uncertainty run.",
    )
    seed = forms.IntegerField(
        label="Seed", min_value=0, max_value=2**63 - 1, required=False, help_text="The same seed gives the same digits."
    )
    sampling = forms.ChoiceField(
        label="Sampling",
        choices=(("latin-hypercube", "Latin hypercube"), ("monte-carlo", "Monte Carlo")),
        required=False,
    )
    time_start = forms.FloatField(label="From, h", min_value=0.0, required=False)
    time_stop = forms.FloatField(label="To, h", min_value=0.0, required=False)
    time_step = forms.FloatField(label="Step, h", min_value=0.0, required=False)
    occurred = forms.CharField(
        label="Found to have occurred", required=False, help_text="Names of events or gates, separated by spaces."
    )
    not_occurred = forms.CharField(
        label="Found not to have occurred", required=False, help_text="Names of events or gates, separated by spaces."
    )
    prime_implicants = forms.IntegerField(
        label="Prime implicants to list",
        min_value=0,
        max_value=MOST_LISTED,
        required=False,
        help_text="For a tree that is not coherent. Empty or 0: none.",
    )
    seconds = forms.FloatField(
        label="Time budget, s",
        min_value=0.5,
        max_value=settings.RUN_SECONDS,
        required=False,
        help_text="Past it the answer is a certified bracket instead of an exact figure.",
    )
    nodes = forms.IntegerField(
        label="Node budget",
        min_value=100,
        max_value=settings.RUN_NODE_BUDGET,
        required=False,
        help_text="Decision-diagram nodes at most. Empty: the limit of this installation.",
    )

    def __init__(self, *args: Any, revision: TreeRevision, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(name, name) for name in revision.tops]
        self.fields["top"].choices = choices if len(choices) == 1 else [("", "Choose one"), *choices]  # type: ignore[attr-defined]
        self.fields["mission_time"].required = revision.uses_mission_time
        self.has_many_tops = len(choices) > 1

    def clean(self) -> dict[str, Any]:
        """Check what two fields say together."""
        data: dict[str, Any] = super().clean() or {}
        self._check_grid(data)
        both = set(data.get("occurred", "").split()) & set(data.get("not_occurred", "").split())
        if both:
            self.add_error("not_occurred", f"Named on both sides: {', '.join(sorted(both))}.")
        if data.get("samples") == 1:
            self.add_error("samples", "One sample has no spread: give 2 or more.")
        return data

    def _check_grid(self, data: dict[str, Any]) -> None:
        grid = [data.get(name) for name in ("time_start", "time_stop", "time_step")]
        if grid[1:] == [None, None] or any(name in self.errors for name in ("time_start", "time_stop", "time_step")):
            return
        start, stop, step = grid[0] or 0.0, grid[1], grid[2]
        if stop is None or step is None:
            self.add_error("time_stop" if stop is None else "time_step", "Give both the end and the step, or neither.")
        elif stop <= start:
            self.add_error("time_stop", "The end must be after the start.")
        elif step <= 0.0 or (stop - start) / step > MOST_TIMES:
            self.add_error("time_step", f"The step must give from 1 to {MOST_TIMES:,} times.")

    def add_refusal(self, refused: BadInput) -> None:
        """Show what a service refused at the field it is about; evidence stands in two."""
        denied = self.cleaned_data["not_occurred"].split()
        for name, messages in refused.fields.items():
            for message in messages:
                field = name
                if name == "evidence":
                    field = "not_occurred" if any(f" {item}." in message for item in denied) else "occurred"
                self.add_error(field, message)

    def to_request(self) -> Request:
        """Return the request that the fields say."""
        data = self.cleaned_data
        evidence = dict.fromkeys(data["occurred"].split(), True)
        evidence |= dict.fromkeys(data["not_occurred"].split(), False)
        grid = None
        if data["time_stop"] is not None:
            grid = TimeGrid(data["time_start"] or 0.0, data["time_stop"], data["time_step"])
        return Request(
            top=data["top"] or None,
            mission_time=data["mission_time"],
            list_count=DEFAULT_LIST_COUNT if data["list_count"] is None else data["list_count"],
            max_order=data["max_order"],
            min_probability=data["min_probability"] or 0.0,
            time_grid=grid,
            samples=data["samples"] or 0,
            seed=1 if data["seed"] is None else data["seed"],
            sampling=data["sampling"] or "latin-hypercube",
            evidence=dict(sorted(evidence.items())),
            prime_implicants=data["prime_implicants"] or 0,
        )


def fill_run_form(revision: TreeRevision, request: dict[str, Any] | None) -> RunForm:
    """Return the form with the settings of a run, or with sensible ones to begin with."""
    data = request or {}
    grid, evidence, budget = data.get("time_grid") or {}, data.get("evidence") or {}, data.get("budget") or {}
    initial = {
        "top": data.get("top") or (revision.tops[0] if len(revision.tops) == 1 else ""),
        "mission_time": data.get("mission_time"),
        "list_count": data.get("list_count", DEFAULT_LIST_COUNT),
        "max_order": data.get("max_order"),
        "min_probability": data.get("min_probability") or None,
        "samples": data.get("samples") or None,
        "seed": data.get("seed", 1),
        "sampling": data.get("sampling", "latin-hypercube"),
        "time_start": grid.get("start"),
        "time_stop": grid.get("stop"),
        "time_step": grid.get("step"),
        "occurred": " ".join(name for name, is_true in evidence.items() if is_true),
        "not_occurred": " ".join(name for name, is_true in evidence.items() if not is_true),
        "prime_implicants": data.get("prime_implicants") or None,
        "seconds": budget.get("seconds", DEFAULT_SECONDS),
        "nodes": budget.get("nodes") if budget.get("nodes") != settings.RUN_NODE_BUDGET else None,
    }
    return RunForm(revision=revision, initial=initial)
