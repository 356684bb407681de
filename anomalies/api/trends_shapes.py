"""What goes into and comes out of the trends in the JSON API."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from anomalies.reads.trends import filter as asked
from anomalies.reads.trends.records import WHATS


def limit(help_text: str = "") -> serializers.FloatField:
    """A number, or null."""
    return serializers.FloatField(allow_null=True, help_text=help_text)


class TrendsIn(serializers.Serializer[Any]):
    """What the trends are counted from."""

    period = serializers.ChoiceField(list(asked.PERIODS.items()), default="quarter")
    measure = serializers.ChoiceField(list(asked.MEASURES.items()), default="outings")
    system = serializers.IntegerField(
        min_value=1, max_value=2**63 - 1, required=False, help_text="Key of a hardware type."
    )
    kind = serializers.ChoiceField(list(asked.KINDS.items()), required=False, help_text="Of the activity.")
    severity = serializers.ChoiceField(list(asked.SEVERITIES.items()), required=False, help_text="0: not assessed yet.")
    split = serializers.ChoiceField(list(asked.SPLITS.items()), required=False)
    until = serializers.ChoiceField(
        list(asked.ENDS.items()), default="now", help_text="now: truncated by time; last: by the last anomaly."
    )
    confidence = serializers.ChoiceField(list(asked.CONFIDENCES.items()), default="0.9")
    causes_by = serializers.ChoiceField(list(asked.CAUSES_BY.items()), default="kind")


class BehindIn(TrendsIn):
    """Which figure, and which row of it."""

    what = serializers.ChoiceField(list(WHATS.items()), help_text="The figure.")
    of = serializers.CharField(
        max_length=200,
        default="",
        allow_blank=True,
        help_text="The row: the key of a period, group or cause, key|period of a group, or done, waiting or ended.",
    )


class TrendRowOut(serializers.Serializer[Any]):
    """One period, or all."""

    key = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]
    count = serializers.IntegerField(help_text="Anomalies.")
    exposure = serializers.FloatField()
    rate = limit("Per unit of exposure; null without any.")


class TrendGroupOut(serializers.Serializer[Any]):
    """One system, kind of activity or severity by itself."""

    key = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]
    whole = TrendRowOut()
    rows = TrendRowOut(many=True)


class LimitsOut(serializers.Serializer[Any]):
    """Two-sided, equal-tailed limits at the confidence asked for."""

    low = serializers.FloatField()
    high = serializers.FloatField()


class PlacedOut(serializers.Serializer[Any]):
    """An anomaly on the axis of exposure."""

    number = serializers.CharField(source="case.number")
    at = serializers.FloatField(help_text="Exposure that had passed.")


class LaplaceOut(serializers.Serializer[Any]):
    """The Laplace test."""

    statistic = serializers.FloatField(help_text="U; below 0: anomalies come rarer.")
    p_improved = serializers.FloatField(help_text="One-sided.")
    p_changed = serializers.FloatField(help_text="Two-sided.")
    used = serializers.IntegerField(help_text="Anomalies that went in; one that ended the watching doesn't.")
    end = serializers.FloatField()
    exact = serializers.BooleanField(source="is_exact", help_text="False: by the normal approximation.")


class GrowthOut(serializers.Serializer[Any]):
    """The power-law model."""

    beta = serializers.FloatField()
    beta_unbiased = serializers.FloatField()
    beta_limits = LimitsOut()
    scale = serializers.FloatField(help_text="λ, anomalies per exposure^β.")
    intensity = serializers.FloatField(help_text="Anomalies per exposure at the end.")
    intensity_limits = LimitsOut()
    between = serializers.FloatField(source="mtbf", help_text="Exposure between anomalies at the end.")
    between_limits = LimitsOut(source="mtbf_limits")
    p_improved = serializers.FloatField()
    p_changed = serializers.FloatField()


class FitOut(serializers.Serializer[Any]):
    """Whether the model fits, by a simulated distribution."""

    statistic = serializers.FloatField(help_text="C², Cramér-von Mises.")
    critical = serializers.FloatField(help_text="Chance passes it with probability `level`.")
    level = serializers.FloatField()
    p = serializers.FloatField()
    standard_error = serializers.FloatField(help_text="Of p.")
    poor = serializers.BooleanField(source="is_poor")


class TrendOut(serializers.Serializer[Any]):
    """Whether anomalies come rarer as exposure grows."""

    placed = PlacedOut(many=True)
    early = serializers.IntegerField(help_text="Anomalies before any exposure, which are left out.")
    laplace = LaplaceOut(allow_null=True)
    laplace_says = serializers.CharField(help_text="In a sentence; why there's none, where it's null.")
    growth = GrowthOut(allow_null=True)
    growth_says = serializers.CharField()
    fit = FitOut(allow_null=True)
    fit_says = serializers.CharField()


class ControlPointOut(serializers.Serializer[Any]):
    """A period on the control chart."""

    key = serializers.CharField(source="row.key")
    label = serializers.CharField(source="row.label")  # type: ignore[assignment]
    count = serializers.IntegerField(source="point.count")
    exposure = serializers.FloatField(source="point.exposure")
    rate = serializers.FloatField(source="point.rate")
    low = serializers.FloatField(source="point.low")
    high = serializers.FloatField(source="point.high")
    rule = serializers.CharField(help_text="Which rule it breaks; empty for none.")


class ControlOut(serializers.Serializer[Any]):
    """The control chart; without one `why_not` says why."""

    centre = limit()
    why_not = serializers.CharField()
    points = ControlPointOut(many=True)
    left_out = serializers.IntegerField(help_text="Periods without exposure.")


class RepeatOut(serializers.Serializer[Any]):
    """A recurrence of an anomaly that was closed."""

    number = serializers.CharField(source="again.number")
    recurrence_of = serializers.CharField(source="first.number")
    closed_at = serializers.DateTimeField()
    days = serializers.FloatField()
    exposure = serializers.FloatField()


class RecurrencesOut(serializers.Serializer[Any]):
    """What came back after it was closed."""

    closed = serializers.IntegerField(help_text="Closed at some time.")
    returned = serializers.IntegerField()
    while_open = serializers.IntegerField()
    repeats = RepeatOut(many=True)


class WaitOut(serializers.Serializer[Any]):
    """How long anomalies wait, in days. Mean and median are of what got there."""

    key = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]
    mean = limit()
    median = limit()
    median_with_waiting = limit("By the product limit; null where more than half may take longer than any seen.")
    done = serializers.IntegerField()
    waiting = serializers.IntegerField()
    ended = serializers.IntegerField(help_text="Closed without getting there.")
    longest_waiting = limit()


class OverdueOut(serializers.Serializer[Any]):
    """An action that is overdue now."""

    number = serializers.CharField(source="action.number")
    anomaly = serializers.CharField(source="action.anomaly.number")
    owner = serializers.CharField(source="action.owner.username", allow_null=True, default=None)
    due_on = serializers.DateField(source="action.due_on")
    days = serializers.IntegerField()


class CauseCountOut(serializers.Serializer[Any]):
    """Confirmed causes of a kind, or of a system."""

    key = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]
    count = serializers.IntegerField()
    share = serializers.FloatField()
    cumulative = serializers.FloatField()


class TrendsOut(serializers.Serializer[Any]):
    """Every figure of the trends page, as rows. Exposure is counted in `measure`."""

    measure = serializers.CharField()
    whole = TrendRowOut()
    duplicates = serializers.IntegerField(help_text="Anomalies left out, as each is a duplicate of another one.")
    rows = TrendRowOut(many=True)
    in_no_row = serializers.IntegerField(help_text="Anomalies that name no activity that was held, by activity.")
    groups = TrendGroupOut(many=True)
    trend = TrendOut()
    control = ControlOut()
    recurrences = RecurrencesOut()
    waits = WaitOut(many=True)
    overdue = OverdueOut(many=True)
    causes = CauseCountOut(many=True)
    caution = serializers.CharField()


class BehindOut(serializers.Serializer[Any]):
    """The records behind a figure: numbers of anomalies, or keys of causes."""

    title = serializers.CharField()
    anomalies = serializers.ListField(child=serializers.CharField())
    causes = serializers.ListField(child=serializers.IntegerField())
