"""What the trends count: periods, exposure, groups, tests of trend, recurrences, times, causes."""

from __future__ import annotations

import pytest
from django.db import connection
from django.http import QueryDict
from django.test.utils import CaptureQueriesContext

from anomalies.clock import pretending
from anomalies.reads.trends.filter import TrendFilter
from anomalies.reads.trends.growth import say_fit, say_growth, say_laplace
from anomalies.reads.trends.records import find_behind
from anomalies.services.closing import reopen_anomaly
from anomalies.services.hardware import install_hardware
from anomalies.services.screening import dismiss_anomaly
from tests.anomalies.people import activity_lead, make_draft, make_item, make_type, safety_engineer
from tests.anomalies.trends import close, confirm, day, hold, owe, read, repeat, report

pytestmark = pytest.mark.django_db
HANDBOOK = (5.0, 40.0, 43.0, 175.0, 389.0, 712.0, 747.0, 795.0, 1299.0, 1478.0)


def counted(rows):
    return {row.label: (row.count, row.exposure) for row in rows}


def test_anomalies_and_exposure_lie_in_their_quarters():
    hold(day(10))
    hold(day(100), hours=3)
    report(day(10, 2))
    report(day(101))
    report(day(102))
    rows = counted(read().rows)
    assert list(rows) == ["2023 Q1", "2023 Q2", "2023 Q3", "2023 Q4", "2024 Q1"]
    assert (rows["2023 Q1"], rows["2023 Q2"]) == ((1, pytest.approx(1)), (2, pytest.approx(1)))
    assert rows["2023 Q3"] == (0, pytest.approx(0))
    hours = counted(read(measure="hours").rows)
    assert (hours["2023 Q1"][1], hours["2023 Q2"][1]) == (pytest.approx(6), pytest.approx(3))
    assert counted(read(period="year").rows)["2023"] == (3, pytest.approx(2))


def test_an_activity_over_midnight_of_new_year_exposes_both_years():
    hold(day(365, -2), hours=6)
    rows = counted(read(at=day(400), period="year", measure="hours").rows)
    assert (rows["2023"][1], rows["2024"][1]) == (pytest.approx(2), pytest.approx(4))


def test_activities_at_the_same_time_add_up():
    hold(day(10), hours=10)
    hold(day(10, 5), hours=10)
    report(day(10, 10))
    placed = read(measure="hours").trend.placed
    assert [each.at for each in placed] == [pytest.approx(15)]


def test_an_activity_under_way_counts_up_to_now():
    hold(day(10), hours=4, over=False)
    shown = read(at=day(10, 3), measure="hours")
    assert shown.whole.exposure == pytest.approx(3)
    assert read(at=day(10, 3)).whole.exposure == 1


def test_by_activity_what_names_none_is_told_apart():
    first, second = hold(day(10), title="First"), hold(day(20), title="Second")
    report(day(10, 1), activity_id=first.pk)
    report(day(30), activity_id=second.pk)
    loose = report(day(12))
    shown = read(period="activity")
    assert counted(shown.rows) == {"First": (1, 1), "Second": (1, 1)}
    assert [case.pk for case in shown.unplaced] == [loose.pk]


def test_drafts_and_dismissed_ones_do_not_count_and_duplicates_are_left_out():
    hold(day(1))
    first, again, gone = report(day(2)), report(day(3)), report(day(4))
    make_draft(occurred_at=day(5))
    repeat(again, first, day(6), "duplicate")
    dismiss_anomaly(anomaly_id=gone.pk, actor=safety_engineer(), reason="A drill.")
    shown = read()
    assert shown.whole.cases == (first.pk,)
    assert [case.pk for case in shown.facts.duplicates] == [again.pk]


def test_a_system_is_exposed_by_what_it_is_installed_in_while_it_is():
    suit, sensor = make_item("S1", "PSA-40"), make_item("C1", "COS-9")
    hold(day(5), hours=2, items=[suit])
    install_hardware(item_id=sensor.pk, parent_id=suit.pk, actor=activity_lead(), at=day(10))
    hold(day(20), hours=3, items=[suit])
    report(day(20, 1), hardware_ids=[sensor.pk])
    report(day(20, 2), hardware_ids=[suit.pk])
    shown = read(measure="hours", system=str(make_type("COS-9").pk))
    assert (shown.whole.count, shown.whole.exposure) == (1, pytest.approx(3))
    groups = {g.key: (g.whole.count, g.whole.exposure) for g in read(measure="hours", split="system").groups}
    assert groups[str(make_type("COS-9").pk)] == (1, pytest.approx(3))
    assert groups[str(make_type("PSA-40").pk)] == (1, pytest.approx(5))


def test_kind_and_severity_narrow_and_split():
    docking = hold(day(5), kind="docking")
    sortie = hold(day(6))
    screened = report(day(5, 1), screened=True, activity_id=docking.pk)
    plain = report(day(6, 1), activity_id=sortie.pk)
    loose = report(day(7))
    assert read(kind="docking").whole.cases == (screened.pk,)
    assert read(kind="docking").whole.exposure == 1
    assert read(severity="2").whole.cases == (screened.pk,)
    assert read(severity="0").whole.cases == (plain.pk, loose.pk)
    assert read(severity="0").whole.exposure == 2
    kinds = {g.key: (g.whole.count, g.whole.rate) for g in read(split="kind").groups}
    assert kinds == {"docking": (1, 1.0), "sortie": (1, 1.0), "none": (1, None)}
    assert {g.key: g.whole.rate for g in read(split="severity").groups} == {"0": 1.0, "2": 0.5}
    assert {len(g.rows) for g in read(split="kind", period="activity").groups} == {2}


def test_trend_test_and_growth_model_of_the_handbook():
    """Source: NIST/SEMATECH e-Handbook, sections 8.2.3.4 and 8.4.5; digits as in tests/outside/test_growth.py."""
    hold(day(0), hours=1500)
    for hours in HANDBOOK:
        report(day(0, hours))
    trend = read(measure="hours", confidence="0.8").trend
    assert trend.laplace.statistic == pytest.approx(-1.326949, abs=1e-6)
    assert trend.laplace.p_improved == pytest.approx(0.092263, abs=0.003)
    assert trend.growth.beta == pytest.approx(0.537228866, rel=1e-8)
    assert trend.growth.beta_unbiased == pytest.approx(0.483506, abs=5e-7)
    assert "they come rarer" in say_laplace(trend)
    assert "below 1" in say_growth(trend)
    assert say_fit(trend).startswith("Nothing speaks against")
    last = read(measure="hours", until="last").trend
    assert last.is_by_last
    assert last.record.end == pytest.approx(1478)
    assert last.laplace.used == 9


def test_with_too_little_the_sentence_says_how_much_is_needed():
    hold(day(1))
    report(day(0))
    report(day(2))
    trend = read().trend
    assert (trend.laplace, trend.growth, len(trend.early)) == (None, None, 1)
    assert "There is 1 anomaly; the Laplace test takes at least 3" in say_laplace(trend)
    assert "takes at least 3" in say_growth(trend)
    assert say_fit(trend) == ""
    assert "at least 4" in read().control.why_not
    assert "No exposure is on record" in say_laplace(read(kind="test").trend)


def test_a_control_chart_names_the_period_beyond_its_limit():
    for month in range(8):
        hold(day(45 * month))
    for hour in range(9):
        report(day(46, hour))
    control = read(at=day(365), period="activity").control
    assert control.chart is None  # no anomaly names its activity
    assert "no anomalies" in control.why_not
    busy = hold(day(350), title="Busy")
    for hour in range(9):
        report(day(350, hour), activity_id=busy.pk)
    signals = read(at=day(365), period="activity").control.signals
    assert [(each.row.label, each.rule) for each in signals] == [("Busy", "Rule 1, above the upper limit")]
    quarters = read(at=day(500)).control
    assert [row.label for row in quarters.bare] == ["2024 Q1", "2024 Q2"]


def test_a_recurrence_counts_from_the_closing_that_the_ledger_remembers():
    first = report(day(10), screened=True)
    close(first, day(20))
    hold(day(25))
    again = report(day(50))
    repeat(again, first, day(51))
    assert first.reread().closed_at is None  # the link opened it again
    found = read().recurrences
    assert [(each.again.pk, each.first.pk) for each in found.repeats] == [(again.pk, first.pk)]
    assert found.repeats[0].days == pytest.approx(30)
    assert found.repeats[0].exposure == pytest.approx(1)
    assert (found.closed, found.returned, found.while_open) == ((first.pk,), (first.pk,), ())


def test_what_came_back_while_it_was_open_is_no_recurrence_after_closing():
    never, reopened = report(day(10), screened=True), report(day(11), screened=True)
    close(reopened, day(20))
    with pretending(day(30)):
        reopen_anomaly(anomaly_id=reopened.pk, actor=safety_engineer(), reason="More to do.")
    for first in (never, reopened):
        repeat(report(day(40)), first, day(41))
    found = read().recurrences
    assert (found.repeats, len(found.while_open), found.returned) == ((), 2, ())
    assert found.closed == (reopened.pk,)


def test_times_are_of_what_got_there_and_the_rest_is_counted_apart():
    early, late, still = (report(day(n), screened=n < 3) for n in (1, 2, 3))
    confirm(early, day(11))
    confirm(early, day(21), "contributing")
    close(late, day(32))
    waits = {wait.key: wait for wait in read(at=day(103)).waits}
    cause, closing, screening = waits["cause"], waits["close"], waits["screen"]
    assert (cause.done, cause.waiting, cause.ended) == ((early.pk,), (still.pk,), (late.pk,))
    assert cause.figures.mean_done == pytest.approx(10)
    assert cause.longest == pytest.approx(100)
    assert (closing.done, closing.figures.median_done) == ((late.pk,), pytest.approx(30))
    assert closing.waiting == (early.pk, still.pk)
    assert closing.figures.median is None  # two of three still wait, both longer than it took the one
    assert (screening.done, screening.waiting) == ((early.pk, late.pk), (still.pk,))


def test_overdue_actions_say_by_how_many_days():
    anomaly = report(day(1), screened=True)
    cause = confirm(anomaly, day(2))
    action = owe(cause, day(20).date(), day(3))
    assert [(each.action.pk, each.days) for each in read(at=day(30)).overdue] == [(action.pk, 10)]
    assert read(at=day(20, 23)).overdue == ()
    assert read(at=day(30), severity="0").overdue == ()


def test_causes_are_counted_the_most_frequent_first_with_their_cumulative_share():
    item = make_item("S1", "PSA-40")
    one, other = report(day(1), screened=True, hardware_ids=[item.pk]), report(day(2), screened=True)
    root, near = confirm(one, day(3), "root"), confirm(one, day(3))
    far = confirm(other, day(3), "root")
    rows = read().causes
    assert [(row.key, row.count) for row in rows] == [("root", 2), ("proximate", 1)]
    assert [row.cumulative for row in rows] == [pytest.approx(2 / 3), 1.0]
    assert set(rows[0].causes) == {root.pk, far.pk}
    systems = read(causes_by="system").causes
    assert {row.key: set(row.causes) for row in systems} == {
        str(make_type("PSA-40").pk): {root.pk, near.pk},
        "none": {far.pk},
    }


def test_every_number_leads_to_as_many_records():
    activity = hold(day(10))
    first = report(day(10, 1), screened=True, activity_id=activity.pk)
    confirm(first, day(12))
    report(day(40))
    shown = read(split="kind")
    for row in shown.rows:
        assert find_behind(shown, "period", row.key).keys == row.cases
    for group in shown.groups:
        assert find_behind(shown, "group", group.key).keys == group.whole.cases
        for row in group.rows:
            assert find_behind(shown, "group", f"{group.key}|{row.key}").keys == row.cases
    for wait in shown.waits:
        for stand in ("done", "waiting", "ended"):
            assert find_behind(shown, wait.what, stand).keys == getattr(wait, stand)
    assert find_behind(shown, "causes", "proximate").keys == shown.causes[0].causes
    assert find_behind(shown, "placed", "").keys == tuple(each.case.pk for each in shown.trend.placed)
    for what, of in (("period", "1999"), ("group", "x"), ("group", "sortie|1999"), ("screen", "x"), ("nonsense", "")):
        assert find_behind(shown, what, of) is None


def test_the_number_of_queries_does_not_grow_with_the_log():
    def count() -> int:
        read()  # whoever reads is there, with all permissions
        with CaptureQueriesContext(connection) as found:
            read(split="system")
        return len(found)

    def add(first: int) -> None:
        for n in range(first, first + 3):
            item = make_item(f"S{n}", f"PSA-{n}")
            activity = hold(day(n * 5), items=[item], title=f"Sortie {n}")
            anomaly = report(day(n * 5, 1), screened=True, activity_id=activity.pk, hardware_ids=[item.pk])
            owe(confirm(anomaly, day(n * 5 + 1)), day(n * 5 + 2).date(), day(n * 5 + 1))
            old = report(day(n * 5, 2), screened=True)
            close(old, day(n * 5 + 1))
            repeat(report(day(n * 5 + 2)), old, day(n * 5 + 3))

    add(0)
    before = count()
    add(3)
    assert len(read().overdue) == 6
    assert count() == before


@pytest.mark.parametrize(
    "query", [{"period": "moon", "system": "x", "severity": "9"}, {"measure": "", "until": "\0", "kind": "walk"}]
)
def test_nonsense_in_an_address_falls_back_to_what_is_asked_for_usually(query):
    assert TrendFilter.read(query) == TrendFilter()


def test_an_address_leads_back_to_the_same_filter():
    wanted = TrendFilter("year", "hours", "3", "sortie", "2", "kind", "last", "0.95", "system")
    assert TrendFilter.read(QueryDict(wanted.query).dict()) == wanted
    assert TrendFilter().query == ""


def test_an_empty_log_has_no_figures_and_breaks_nothing():
    shown = read()
    assert (shown.rows, shown.groups, shown.causes, shown.overdue) == ((), (), (), ())
    assert shown.control.chart is None
    assert shown.waits[0].figures is None
