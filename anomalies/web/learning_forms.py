"""Forms that compute and write nothing: factors from counts, parameters from what a gate did."""

from __future__ import annotations

from django import forms

from anomalies.web.fields import RecordField, line
from config.kit.errors import BadInput
from faulttree.facade import (
    GroupFactors,
    Inference,
    estimate_factors,
    find_newest,
    learn_through,
    list_trees,
)

MOST_MEMBERS = 8
SAMPLES = 50_000


class CountsForm(forms.Form):
    """How often 1, 2, ... members of a group failed together."""

    counts = line("How often 1, 2, 3, … members failed together", help_text="Numbers with commas, like 20, 5, 1.")
    prior = line(
        "Prior of each, in the same order",
        required=False,
        help_text="Empty: 1 each, a Dirichlet law that prefers none.",
    )
    staggered = forms.BooleanField(
        label="Members are tested at different times (staggered)",
        required=False,
        help_text="It decides how the Greek-letter factors follow from the counts.",
    )

    def clean_counts(self) -> list[float]:
        """Read the numbers."""
        return _read_numbers(self.cleaned_data["counts"], low=0.0)

    def clean_prior(self) -> list[float] | None:
        """Read the numbers, if there are any."""
        text = self.cleaned_data["prior"]
        return _read_numbers(text, low=1e-9) if text else None

    def clean(self) -> None:
        """As many of the prior as of the counts."""
        prior, counts = self.cleaned_data.get("prior"), self.cleaned_data.get("counts")
        if prior and counts and len(prior) != len(counts):
            self.add_error("prior", f"Give {len(counts)} numbers, one for each count.")

    def estimate(self) -> GroupFactors:
        """Return the factors."""
        data = self.cleaned_data
        return estimate_factors(data["counts"], prior=data["prior"], staggered=data["staggered"])


class GateForm(forms.Form):
    """So many occurrences of a gate in so many demands."""

    tree = RecordField("Fault tree", list_trees(), empty="Choose a tree")
    gate = line("Gate", help_text="Its name, as the tree has it; empty: its top event.", required=False)
    count = forms.IntegerField(label="It occurred", min_value=0)
    demands = forms.IntegerField(label="In so many demands", min_value=1)
    mission_time = forms.FloatField(label="Mission time of one demand, hours", required=False, min_value=0.0)

    def infer(self) -> Inference | None:
        """Return what was learnt; None, with an error on the field, where it can't be."""
        data = self.cleaned_data
        revision = find_newest(data["tree"].pk)
        assert revision is not None
        gate = data["gate"] or (revision.tops[0] if len(revision.tops) == 1 else "")
        if not gate:
            self.add_error("gate", f"This tree has several top events: name one of {', '.join(revision.tops)}.")
            return None
        if revision.uses_mission_time and data["mission_time"] is None:
            self.add_error("mission_time", "Probabilities of this tree depend on the mission time: give it.")
            return None
        try:
            return learn_through(revision, gate, data["count"], data["demands"], data["mission_time"], SAMPLES)
        except BadInput as error:
            self.add_error("gate", error.message)
            return None


def _read_numbers(text: str, *, low: float) -> list[float]:
    try:
        found = [float(part) for part in text.replace(";", ",").split(",") if part.strip()]
    except ValueError:
        raise forms.ValidationError("Write numbers with commas between them, like 20, 5, 1.") from None
    if not 2 <= len(found) <= MOST_MEMBERS:
        raise forms.ValidationError(f"Give 2 to {MOST_MEMBERS} numbers, one for each number of members.")
    if any(not low <= value < 1e9 for value in found):
        raise forms.ValidationError("Each number must be 0 or more." if low == 0.0 else "Each must be above 0.")
    return found
