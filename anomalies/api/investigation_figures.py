"""What follows from the evidence of an investigation, in the JSON API: every probability, and what they rest on."""

from __future__ import annotations

import math
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from anomalies.api.investigation_shapes import BearingOut, DispositionOut, InspectionOut, InvestigationBrief
from anomalies.models import Bearing, Disposition, Investigation
from anomalies.reads.investigations import EventRow, InspectionRow, InvestigationView, read_investigation
from anomalies.reads.known import Known
from faulttree.facade import CAUTION

NO_FIGURE = "Null where there's no posterior: `stopped` or `conflict` says why."
ASSUMPTIONS = (
    "The tree is complete: every way in which the top event can come about is in it.",
    "Basic events are independent of each other, except through the common-cause groups that the tree has.",
    "A piece of evidence depends on the tree through its own event alone: given that, it's independent of all else.",
    "The probabilities of the tree apply to this hardware in this activity.",
)


def probability(help_text: str = "") -> serializers.FloatField:
    """A probability, or null."""
    return serializers.FloatField(allow_null=True, help_text=help_text)


class BeliefOut(serializers.Serializer[Any]):
    """A basic event or gate: how likely it is before anything is known, and what knowing makes of it."""

    name = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]
    prior = probability("Before anything is known, not even that the top event happened.")
    given_top = probability("Given the top event alone.")
    posterior = probability(f"Given the top event and all evidence. {NO_FIGURE}")
    covered = serializers.BooleanField(help_text="Gates above it have a disposition, so it needs none.")
    disposition = DispositionOut(allow_null=True)


class ExplanationOut(serializers.Serializer[Any]):
    """A minimal cut set, and the probabilities that all its events occurred."""

    events = serializers.ListField(child=serializers.CharField())
    prior = serializers.FloatField()
    given_top = serializers.FloatField()
    posterior = probability(NO_FIGURE)


class KnownOut(serializers.Serializer[Any]):
    """One thing that counts: a bearing, or a disposition that rules out or confirms."""

    kind = serializers.CharField(help_text="bearing or disposition")
    id = serializers.IntegerField()
    event = serializers.CharField()
    ratio = serializers.FloatField(
        allow_null=True, help_text="Likelihood ratio. 0: it did not occur; null: it did, the ratio is infinite."
    )
    at = serializers.DateTimeField()


class RankedOut(serializers.Serializer[Any]):
    """What a possible inspection is expected to tell, given all that is known."""

    inspection = InspectionOut()
    bits = probability("Mutual information of its result and what happened, base 2.")
    bits_per_price = probability("By the price of `order`; null where it has none, or costs nothing.")
    target_probability = probability("Of its event, now.")
    positive_probability = probability("That it finds its event.")
    if_positive = probability("Probability of its event, if it finds it.")
    if_negative = probability("Probability of its event, if it doesn't.")
    leader_now = serializers.CharField(allow_null=True, help_text="The likeliest basic event.")
    leader_if_positive = serializers.CharField(allow_null=True)
    leader_if_negative = serializers.CharField(allow_null=True)


class ContradictionOut(serializers.Serializer[Any]):
    """What can't all be true together with the top event."""

    known = KnownOut(many=True)
    smallest = serializers.BooleanField(help_text="No smaller set is in conflict. False: that wasn't ruled out.")
    top_alone = serializers.BooleanField(help_text="By the numbers of the tree, its top event can't occur at all.")


class FiguresOut(serializers.Serializer[Any]):
    """What follows. Every probability is exact, for the tree as it is with the library's values of today."""

    top_probability = probability("Of the top event, before it was known to have happened.")
    events = BeliefOut(many=True, help_text="Basic events, the likeliest first.")
    gates = BeliefOut(many=True, help_text="Gates below the top event.")
    explanations = ExplanationOut(many=True, help_text="The leading minimal cut sets.")
    explanations_sure = serializers.IntegerField(help_text="So many from the first are proved to be the leading ones.")
    cut_sets = serializers.IntegerField(allow_null=True, help_text="How many there are altogether.")
    known = KnownOut(many=True, help_text="What counts, in the order in which it was entered.")
    lost = KnownOut(many=True, help_text="What doesn't count, as this revision of the tree lacks its event.")
    bearings = BearingOut(many=True, help_text="All of them, withdrawn ones too.")
    order = serializers.CharField(help_text="hours, cost or bits: what the inspections are ranked by.")
    inspections = RankedOut(many=True, help_text="Those that are possible, the best for its price first.")
    carried_out = InspectionOut(many=True)
    conflict = ContradictionOut(allow_null=True)
    stopped = serializers.CharField(help_text="Why there are no probabilities; empty where there are.")
    open_events = serializers.IntegerField(help_text="Basic events that have no disposition yet.")
    mismatches = serializers.ListField(
        child=serializers.CharField(), help_text="Where causes and events don't go together."
    )
    newer_revision = serializers.IntegerField(allow_null=True, help_text="Of its tree, to be taken up.")
    notes = serializers.ListField(child=serializers.CharField())
    assumptions = serializers.ListField(child=serializers.CharField())
    caution = serializers.CharField()


class InvestigationOut(InvestigationBrief):
    """An investigation, and what follows from all that is known."""

    figures = serializers.SerializerMethodField()

    class Meta(InvestigationBrief.Meta):
        fields = (*InvestigationBrief.Meta.fields, "figures")

    @extend_schema_field(FiguresOut)
    def get_figures(self, investigation: Investigation) -> dict[str, Any]:
        """Compute them."""
        order = self.context.get("order", "hours")
        view = read_investigation(investigation, order=order)
        return dict(FiguresOut(_show(view, order), context=self.context).data)


def _show(view: InvestigationView, order: str) -> dict[str, Any]:
    found = view.posterior
    conflict = found.conflict if found else None
    return {
        "top_probability": found.top_probability if found else None,
        "events": [_show_belief(view, row) for row in view.events],
        "gates": [_show_belief(view, row) for row in view.gates],
        "explanations": view.explanations,
        "explanations_sure": found.explanations_sure if found else 0,
        "cut_sets": found.cut_sets if found else None,
        "known": [_show_known(each) for each in view.known],
        "lost": [_show_known(each) for each in view.lost],
        "bearings": view.investigation.bearings.select_related("author"),
        "order": order,
        "inspections": [_show_ranked(row) for row in view.inspections],
        "carried_out": view.carried_out,
        "conflict": conflict
        and {
            "known": [_show_known(each) for each in view.conflict],
            "smallest": conflict.smallest,
            "top_alone": conflict.top_alone,
        },
        "stopped": view.stopped,
        "open_events": view.open_events,
        "mismatches": [each.text for each in view.mismatches],
        "newer_revision": view.newest.number if view.newest and view.has_newer else None,
        "notes": found.notes if found else (),
        "assumptions": ASSUMPTIONS,
        "caution": CAUTION,
    }


def _show_belief(view: InvestigationView, row: EventRow) -> dict[str, Any]:
    moved = row.moved
    return {
        "name": row.part.name,
        "label": view.labels[row.part.name],
        "prior": moved and moved.prior,
        "given_top": moved and moved.given_top,
        "posterior": moved and moved.posterior,
        "covered": row.covered,
        "disposition": row.disposition,
    }


def _show_known(known: Known) -> dict[str, Any]:
    record: Bearing | Disposition = known.record
    ratio = None if math.isinf(known.ratio) else known.ratio
    return {"kind": record.KIND, "id": record.pk, "event": known.event, "ratio": ratio, "at": known.at}


def _show_ranked(row: InspectionRow) -> dict[str, Any]:
    names = ("bits", "target_probability", "positive_probability", "if_positive", "if_negative")
    leaders = ("leader_now", "leader_if_positive", "leader_if_negative")
    price = None if row.per_cost is None or math.isinf(row.per_cost) else row.per_cost
    worth = {name: getattr(row.worth, name, None) for name in (*names, *leaders)}
    return {"inspection": row.inspection, "bits_per_price": price, **worth}
