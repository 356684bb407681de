"""The figures of the trends: rates, control limits, recurrences, times, shares of causes."""

from __future__ import annotations

from datetime import UTC, datetime

from django.urls import reverse

from anomalies.reads.trends.addresses import find_records_url
from anomalies.reads.trends.control import Charted
from anomalies.reads.trends.facts import Case
from anomalies.reads.trends.page import Trends
from anomalies.reads.trends.periods import Row
from anomalies.reads.trends.waiting import Wait
from anomalies.web.explained import Explained, Input, explained
from config.kit.figures import write_plain, write_share

RECORDED = "Every anomaly was reported, with the right moment, activity and hardware."
EXPOSED = "Exposure is that of activities: what happens between them has none of its own."
ALIKE = "One outing, or hour, exposes as much to trouble as another one."
POISSON = "With a constant rate, anomalies come independently of each other: counts are Poisson."
COUNTED = "A count; no source is needed."


@explained("trends", "rate")
def explain_rate(trends: Trends, of: str) -> Explained | None:
    """Anomalies per exposure in a period, or in all."""
    row = next((row for row in trends.rows if row.key == of), None) if of else trends.whole
    return _explain_row(trends, row, find_records_url(trends.wanted, "period" if of else "all", of))


@explained("trends", "group-rate")
def explain_group_rate(trends: Trends, of: str) -> Explained | None:
    """The same of a system, kind or severity, in a period or in all."""
    key, _, period = of.partition("|")
    group = next((group for group in trends.groups if group.key == key), None)
    if group is None:
        return None
    row = next((row for row in group.rows if row.key == period), None) if period else group.whole
    return _explain_row(trends, row, find_records_url(trends.wanted, "group", of), group.label)


@explained("trends", "centre")
def explain_centre(trends: Trends, of: str) -> Explained | None:
    """The centre line of the control chart."""
    chart = trends.control.chart
    if chart is None or of:
        return None
    count, exposure = _sum_points(trends)
    return Explained(
        "Centre line of the control chart",
        f"{write_plain(chart.centre, 4)} per {trends.wanted.unit}",
        "All anomalies of the charted periods over all their exposure: the rate, if it's the same in all of them.",
        ("ū = Σ anomalies / Σ exposure", f"= {count} / {exposure:.6g} = {write_plain(chart.centre, 5)}"),
        (_count(count, find_records_url(trends.wanted, "all")), _exposure(trends, exposure)),
        (POISSON, ALIKE, RECORDED),
        "Shewhart charts as in ISO 7870-2 (from memory).",
    )


@explained("trends", "limits")
def explain_limits(trends: Trends, of: str) -> Explained | None:
    """The control limits of a period."""
    chart = trends.control.chart
    each: Charted | None = next((each for each in trends.control.points if each.row.key == of), None)
    if chart is None or each is None:
        return None
    point, unit = each.point, trends.wanted.unit
    mean = chart.centre * point.exposure
    low, high = round(point.low * point.exposure), round(point.high * point.exposure)
    return Explained(
        f"Control limits, {each.row.label}",
        f"{write_plain(point.low)} to {write_plain(point.high)} per {unit}",
        "Where the period's count lies almost always, if the rate is that of the centre line. Each side is passed with "
        "probability 0.00135 at most.",
        (
            "smallest k with P(N ≤ k) ≥ 0.00135, and with P(N ≤ k) ≥ 0.99865;  N ~ Poisson(ū · exposure)",
            f"ū · exposure = {write_plain(chart.centre, 4)} · {point.exposure:.4g} = {write_plain(mean, 4)}",
            f"k = {low} and {high}; over {point.exposure:.4g}: {write_plain(point.low)} and {write_plain(point.high)}",
        ),
        (
            Input("centre line ū", write_plain(chart.centre, 5), "all charted periods"),
            _exposure(trends, point.exposure),
            _count(point.count, find_records_url(trends.wanted, "period", of)),
        ),
        (POISSON, ALIKE, RECORDED),
        "Exact Poisson limits in place of 3 sigma, with the tail of a normal law past 3 sigma; Shewhart charts as in "
        "ISO 7870-2, runs of nine by Nelson 1984 (from memory).",
    )


@explained("trends", "returned")
def explain_returned(trends: Trends, of: str) -> Explained | None:
    """Which share of what was closed came back."""
    found = trends.recurrences
    share, wanted = found.share, trends.wanted
    if share is None or of:
        return None
    return Explained(
        "Share of closed anomalies that came back",
        write_share(share),
        "Of the anomalies that were closed at some time, those that another one is linked to as a recurrence, which "
        "occurred while they were closed.",
        ("came back / closed at some time", f"= {len(found.returned)} / {len(found.closed)} = {write_share(share)}"),
        (
            Input("came back", str(len(found.returned)), "see them", find_records_url(wanted, "returned")),
            Input("closed at some time", str(len(found.closed)), "see them", find_records_url(wanted, "closed")),
        ),
        (
            "Whoever screens an anomaly links it to the one that it repeats.",
            "Those closed lately have had little time to come back: the share can still rise.",
        ),
        COUNTED,
    )


@explained("trends", "after")
def explain_after(trends: Trends, of: str) -> Explained | None:
    """How long after its closing an anomaly came back."""
    each = next((each for each in trends.recurrences.repeats if each.again.number == of), None)
    if each is None:
        return None
    return Explained(
        f"Time from closing to the recurrence, {each.again.number}",
        f"{each.days:.1f} days",
        "From the last closing before it to the moment at which it occurred again.",
        ("occurred again − closed", f"= {each.days:.4f} days; {each.exposure:.4g} {trends.wanted.units} in that time"),
        (
            Input("closed", _moment(each.closed_at), each.first.number, _dossier(each.first)),
            Input("occurred again", _moment(each.again.occurred_at), each.again.number, _dossier(each.again)),
        ),
        ("The moment of the occurrence is right.", EXPOSED),
        COUNTED,
    )


@explained("trends", "mean")
def explain_mean(trends: Trends, of: str) -> Explained | None:
    """Mean and median of those that got there."""
    wait = _find_wait(trends, of)
    if wait is None or wait.figures is None or wait.figures.mean_done is None or wait.figures.median_done is None:
        return None
    figures = wait.figures
    return Explained(
        f"{wait.label}: mean and median",
        f"{figures.mean_done:.2f} and {figures.median_done:.2f} days",
        "Of those that got there. What still waits isn't in them, so they look shorter than it is.",
        (
            f"mean = Σ days / {figures.done} = {figures.mean_done:.4f}",
            f"median = the middle one of {figures.done}, or between the middle two = {figures.median_done:.4f}",
        ),
        _wait_inputs(trends, wait),
        ("Moments are those that the records hold; a report that was written late makes times shorter.",),
        COUNTED,
    )


@explained("trends", "median")
def explain_median(trends: Trends, of: str) -> Explained | None:
    """The median with those that still wait counted."""
    wait = _find_wait(trends, of)
    if wait is None or wait.figures is None or wait.figures.median is None:
        return None
    return Explained(
        f"{wait.label}: median, waiting ones counted",
        f"{wait.figures.median:.2f} days",
        "Half are expected to get there within this time. What still waits counts as longer than so far, and what "
        "closed without getting there as longer than up to its closing.",
        (
            "S(t) = Π over the times t_i ≤ t of (1 − got there at t_i / still waiting just before t_i)",
            f"the first t with S(t) ≤ ½ = {wait.figures.median:.4f}",
        ),
        _wait_inputs(trends, wait),
        ("How long something still has to wait doesn't depend on when we look.",),
        "Product-limit estimate, Kaplan and Meier 1958 (from memory).",
    )


@explained("trends", "share")
def explain_share(trends: Trends, of: str) -> Explained | None:
    """The share and the cumulative share of confirmed causes."""
    row = next((row for row in trends.causes if row.key == of), None)
    if row is None:
        return None
    total = trends.cause_count
    place = trends.causes.index(row) + 1
    up_to = sum(each.count for each in trends.causes[:place])
    return Explained(
        f"Share of confirmed causes: {row.label}",
        f"{write_share(row.share)}; with those before it {write_share(row.cumulative)}",
        "Which part of all confirmed causes it has, and which part it has together with the more frequent ones.",
        (
            f"{row.count} / {total} = {write_share(row.share)}",
            f"cumulative: {up_to} / {total} = {write_share(row.cumulative)}",
        ),
        (
            Input("confirmed", str(row.count), "see them", find_records_url(trends.wanted, "causes", of)),
            Input("all", str(total), "by system, once for each system that the anomaly names"),
        ),
        ("Only what is confirmed now counts: causes that are still open can change the order.",),
        COUNTED,
    )


def _explain_row(trends: Trends, row: Row | None, url: str, name: str = "") -> Explained | None:
    if row is None or row.rate is None:
        return None
    label = f"{name}, {row.label}" if name and name != row.label else row.label
    return Explained(
        f"Anomalies per {trends.wanted.unit}: {label}",
        write_plain(row.rate, 4),
        "Anomalies over the exposure of the activities in that time; an activity that spans two periods gives each its "
        "part.",
        ("anomalies / exposure", f"= {row.count} / {row.exposure:.6g} = {write_plain(row.rate, 5)}"),
        (_count(row.count, url), _exposure(trends, row.exposure)),
        (RECORDED, EXPOSED, ALIKE),
        COUNTED,
    )


def _sum_points(trends: Trends) -> tuple[int, float]:
    points = trends.control.points
    return sum(each.point.count for each in points), sum(each.point.exposure for each in points)


def _count(count: int, url: str) -> Input:
    return Input("anomalies", str(count), "reported, open and closed ones, without duplicates", url if count else "")


def _exposure(trends: Trends, exposure: float) -> Input:
    unit = trends.wanted.unit if exposure == 1.0 else trends.wanted.units
    where = "activities that are over, or under way up to now"
    return Input("exposure", f"{exposure:.6g} {unit}", where, f"{reverse('anomalies:activities')}?show=all")


def _find_wait(trends: Trends, of: str) -> Wait | None:
    return next((wait for wait in trends.waits if wait.key == of), None)


def _wait_inputs(trends: Trends, wait: Wait) -> tuple[Input, ...]:
    rows = (
        ("got there", "done", wait.done),
        ("still wait", "waiting", wait.waiting),
        ("closed without", "ended", wait.ended),
    )
    return tuple(
        Input(name, str(len(keys)), "see them", find_records_url(trends.wanted, wait.what, of))
        for name, of, keys in rows
        if keys
    )


def _dossier(case: Case) -> str:
    return reverse("anomalies:dossier", args=(case.number,))


def _moment(at: datetime) -> str:
    return f"{at.astimezone(UTC):%Y-%m-%d %H:%M} UTC"
