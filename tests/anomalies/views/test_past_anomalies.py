"""The import of past anomalies: what the dry run says, that it writes nothing, that it is all or nothing."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from anomalies.models import Anomaly, LedgerEntry
from anomalies.past_table import COLUMNS, MOST_ROWS, read_moment, read_table
from anomalies.reads.past_anomalies import plan_import
from anomalies.services.ledger_proof import prove_ledger
from anomalies.services.past_anomalies import NOTHING_NEW, import_anomalies
from config.kit.errors import BadInput, NotAllowed
from tests.anomalies.people import (
    board_member,
    make_activity,
    make_draft,
    make_item,
    make_reported,
    make_stranger,
    recorder,
    safety_engineer,
    viewer,
)
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db

PAGE = "/log/import/"
HEAD = "title,occurred_at,place,activity,hardware,severity,probability,rationale,lead"
PLAIN = f"{HEAD}\nCoolant wept,2019-03-05 09:30,Airlock,,,,,,"


def write(*rows, head=tuple(COLUMNS)):
    """A table as a spreadsheet writes it."""
    text = io.StringIO()
    csv.writer(text).writerows([head, *([row.get(name, "") for name in head] for row in rows)])
    return text.getvalue()


def seen(title="Coolant wept", at="2019-03-05 09:30", **more):
    return {"title": title, "occurred_at": at} | more


def find_faults(table, actor=None):
    return {
        (row.line.number, fault.column) for row in plan_import(actor or recorder(), table).rows for fault in row.faults
    }


def count():
    return Anomaly.objects.count(), LedgerEntry.objects.count()


def test_a_dry_run_says_what_is_made_and_writes_nothing():
    activity, item = make_activity(), make_item("B")
    table = write(seen(activity="sortie 7", hardware=" umb-200 / b "), seen("Fan stopped", "2020-01-01T00:30+02:00"))
    before = count()
    plan = plan_import(recorder(), table)
    assert [row.outcome for row in plan.rows] == ["made", "made"]
    assert (plan.rows[0].activity, plan.rows[0].items) == (activity, [item])
    assert plan.series == ["A-2019"], "the second began before the year did, in UTC"
    assert count() == before


def test_an_import_makes_all_in_the_order_in_which_they_occurred():
    recorder_, activity, item = recorder(), make_activity(), make_item("B")
    late = seen("Late", "2019-06-01 10:00", activity=f"#{activity.pk}", activity_cut_short="yes", hardware="UMB-200/B")
    done = import_anomalies(actor=recorder_, table=write(late, seen(description="A drop,\nthen more")))
    assert [(each.number, each.title) for each in done.made] == [("A-2019-001", "Coolant wept"), ("A-2019-002", "Late")]
    first, second = Anomaly.objects.order_by("number")
    assert (first.description, first.state, first.recorded_by) == ("A drop,\nthen more", "reported", recorder_)
    assert (second.activity, second.activity_cut_short) == (activity, True)
    assert [use.item for use in second.hardware_concerned.all()] == [item]
    assert prove_ledger().is_whole


def test_who_may_screen_screens_with_the_table():
    lead = board_member()
    row = seen(severity="2", probability="c", rationale="Hands get cold.", lead=lead.username)
    done = import_anomalies(actor=safety_engineer(), table=write(row))
    assert [(each.state, each.risk_code, each.lead) for each in done.made] == [("open", "2C", lead)]
    assert find_faults(write(row), recorder()) == {(2, "severity")}


@pytest.mark.parametrize(
    ("row", "column"),
    [
        (seen(title=""), "title"),
        (seen(title="x" * 201), "title"),
        (seen(at="5 March"), "occurred_at"),
        (seen(at="2019-03-05"), "occurred_at"),
        (seen(at="2999-03-05 09:30"), "occurred_at"),
        (seen(activity="Nowhere"), "activity"),
        (seen(activity_cut_short="perhaps"), "activity_cut_short"),
        (seen(hardware="UMB-200/Z"), "hardware"),
        (seen(severity="2", probability="C", rationale="", lead="board-member"), "rationale"),
        (seen(severity="5", probability="C", rationale="Why", lead="board-member"), "severity"),
        (seen(severity="2", probability="F", rationale="Why", lead="board-member"), "probability"),
        (seen(severity="2", probability="C", rationale="Why", lead="viewer"), "lead"),
    ],
)
def test_a_fault_names_line_and_column_and_stops_the_whole_import(row, column):
    board_member(), viewer()
    table = write(seen("Good"), row)
    assert find_faults(table, safety_engineer()) == {(3, column)}
    before = count()
    with pytest.raises(BadInput) as refusal:
        import_anomalies(actor=safety_engineer(), table=table)
    assert f"Line 3, {column}: " in refusal.value.fields["table"][0]
    assert count() == before


def test_of_activities_with_one_title_the_moment_decides():
    first = make_activity(
        planned_start=datetime(2019, 3, 5, 8, tzinfo=UTC), planned_end=datetime(2019, 3, 5, 12, tzinfo=UTC)
    )
    make_activity()
    plan = plan_import(
        recorder(), write(seen(activity="Sortie 7"), seen("Other", "2018-01-01 10:00", activity="Sortie 7"))
    )
    assert plan.rows[0].activity == first
    assert [fault.column for fault in plan.rows[1].faults] == ["activity"]


def test_what_is_there_already_is_skipped_and_said():
    known = import_anomalies(actor=recorder(), table=PLAIN).made[0]
    make_draft(title="Fan stopped")
    table = write(
        seen("coolant  WEPT"), seen("Fan stopped", "2024-03-05 09:30"), seen("Fan stopped", "2024-03-05 09:30")
    )
    plan = plan_import(recorder(), table)
    assert [(row.outcome, row.there, row.twin) for row in plan.rows] == [
        ("there", known, 0),
        ("made", None, 0),
        ("there", None, 3),
    ]
    assert import_anomalies(actor=recorder(), table=table).skipped == 2
    with pytest.raises(BadInput, match=NOTHING_NEW):
        import_anomalies(actor=recorder(), table=table)


def test_who_may_not_report_may_not_look_either():
    for actor in (viewer(), make_stranger()):
        with pytest.raises(NotAllowed):
            plan_import(actor, PLAIN)


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_the_head_tells_the_separator(separator):
    table = read_table(
        f"\ufeffOccurred at{separator}TITLE{separator}pump\r\n2019-03-05 09:30{separator}Wept{separator}3\r\n\r\n"
    )
    assert [(line.number, line.cells["title"]) for line in table.lines] == [(2, "Wept")]
    assert table.unused == ("pump",)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("title,place\nWept,Airlock", "it lacks occurred_at"),
        ("title,title,occurred_at\na,b,c", "title more than once"),
        ("title,occurred_at", "no line below"),
        ('title,occurred_at\n"Wept"x,2019-03-05 09:30', "Line 2 isn't CSV"),
        ("title,occurred_at\n" + "Wept,2019-03-05 09:30\n" * (MOST_ROWS + 1), "at most 1,000"),
        ("x" * 1_000_001, "at most 1,000,000"),
    ],
)
def test_what_is_no_table_is_refused_with_the_reason(text, words):
    with pytest.raises(BadInput, match=words):
        read_table(text)


def test_a_cell_of_several_lines_keeps_the_numbers_right():
    table = read_table('title,occurred_at\n"Wept\ntwice",2019-03-05 09:30\nFan,x,y')
    assert [(line.number, line.beyond) for line in table.lines] == [(2, ()), (4, ("y",))]
    assert (4, "") in find_faults('title,occurred_at\n"Wept\ntwice",2019-03-05 09:30\nFan,2019-03-05 09:30,y')


def test_moments_are_utc_unless_they_say_otherwise():
    assert read_moment("2031-04-05T09:30+02:00") == datetime(2031, 4, 5, 7, 30, tzinfo=UTC)
    assert read_moment("2031-04-05 09:30") == datetime(2031, 4, 5, 9, 30, tzinfo=UTC)
    assert read_moment("0001-01-01T00:00+09:00") is None


def test_the_page_shows_then_imports_what_was_shown():
    client = log_in(recorder())
    assert client.get(PAGE).status_code == 200
    shown = client.post(PAGE, {"table": PLAIN, "check": "1"})
    assert "next of A-2019" in shown.content.decode()
    assert not Anomaly.objects.exists()
    checked = shown.context["form"].digest
    other = client.post(PAGE, {"table": PLAIN + "\nFan,2019-03-05 09:30,,,,,,,", "checked": checked, "import": "1"})
    assert (other.status_code, Anomaly.objects.count()) == (422, 0), "the text isn't the one that was checked"
    done = client.post(PAGE, {"table": PLAIN.replace("\n", "\r\n"), "checked": checked, "import": "1"})
    assert (done.headers["Location"], Anomaly.objects.count()) == ("/log/", 1)


def test_a_file_takes_the_place_of_the_text():
    file = SimpleUploadedFile("past.csv", ("\ufeff" + PLAIN).encode())
    answer = log_in(recorder()).post(PAGE, {"file": file, "check": "1"})
    assert "Coolant wept,2019-03-05 09:30" in answer.content.decode()
    bad = log_in(recorder()).post(
        PAGE, {"file": SimpleUploadedFile("past.csv", b"\xff\xfe\x00"), "table": "kept", "check": "1"}
    )
    assert bad.status_code == 422
    assert "CSV UTF-8" in bad.content.decode()
    assert "kept" in bad.content.decode()


def test_bad_text_comes_back_with_the_reason():
    answer = log_in(recorder()).post(PAGE, {"table": "a,b\n1,2", "check": "1"})
    assert answer.status_code == 422
    assert "it lacks occurred_at, title" in answer.content.decode()
    assert log_in(recorder()).post(PAGE, {"check": "1"}).status_code == 422


def test_the_example_can_be_imported():
    client = log_in(recorder())
    text = b"".join(client.get(PAGE + "example.csv").streaming_content).decode()
    assert text.splitlines()[0].split(",") == list(COLUMNS)
    assert find_faults(text.replace("2031-", "2021-")) == set()


def test_nobody_else_gets_the_page():
    assert log_in(viewer()).get(PAGE).status_code == 403
    assert make_reported().number
