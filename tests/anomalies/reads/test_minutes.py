"""Minutes: what was recorded while the meeting was open, in the words of the records as they were then."""

from __future__ import annotations

from datetime import UTC, datetime
from io import BytesIO

import pypdfium2
import pytest

from anomalies.models import LedgerEntry
from anomalies.people import name_of
from anomalies.reads.meetings.minutes import read_minutes
from anomalies.reads.meetings.paper import print_minutes
from anomalies.reads.meetings.sentences import TELLERS
from anomalies.services.actions import drop_action
from anomalies.services.causes import confirm_cause, reconsider_cause
from anomalies.services.closing import close_anomaly, reopen_anomaly
from anomalies.services.findings import adopt_finding, edit_finding, send_back_finding, state_position, withdraw_finding
from anomalies.services.meetings import end_meeting, open_meeting, withdraw_decision
from anomalies.services.readiness import resume_review
from anomalies.services.screening import dismiss_anomaly, restore_anomaly, screen_anomaly
from anomalies.services.unexplained import retract_acceptance
from anomalies.services.waivers import withdraw_waiver
from anomalies.web.deeds import DEEDS
from config.kit.errors import BadInput, WrongState
from tests.anomalies.actions import make_committed, make_done, verify
from tests.anomalies.fault_trees import judge_all, make_investigation
from tests.anomalies.files import make_evidence
from tests.anomalies.investigation import make_cause, make_finding, seat
from tests.anomalies.meetings import end, make_decision, make_held, make_meeting, make_opened
from tests.anomalies.people import (
    board_member,
    make_open,
    make_reported,
    make_stranger,
    recorder,
    safety_engineer,
    viewer,
)
from tests.anomalies.procedures import prove
from tests.anomalies.readiness import make_signed, make_waiver
from tests.anomalies.services.test_every_move import accept

pytestmark = pytest.mark.django_db


def read(meeting):
    """Part and text of every line."""
    return [(line.part, line.text) for line in read_minutes(meeting.reread()).lines]


def test_there_are_none_before_it_is_opened():
    with pytest.raises(WrongState):
        read_minutes(make_meeting())


def test_only_what_was_recorded_meanwhile_is_in_them():
    before, during, after = (make_reported(title=title) for title in ("Before", "During", "After"))
    engineer = safety_engineer()

    def dismiss(report):
        dismiss_anomaly(anomaly_id=report.pk, actor=engineer, reason="Nothing to it.")

    dismiss(before)
    meeting = make_opened()
    dismiss(during)
    assert read(meeting) == [("screening", f"{during.number}, During: dismissed.")]
    end(meeting)
    dismiss(after)
    assert read(meeting) == [("screening", f"{during.number}, During: dismissed.")]
    (line,) = read_minutes(meeting.reread()).lines
    assert (line.reason, line.who, line.kind, line.key) == (
        "Nothing to it.",
        name_of(engineer),
        "anomaly",
        during.pk,
    )
    assert LedgerEntry.objects.get(sequence=line.sequence).record_id == during.pk


def test_a_finding_is_told_with_positions_and_dissent_in_the_wording_of_then():
    anomaly, member = make_open(), board_member()
    seat(anomaly)
    finding = make_finding(anomaly, statement="The seal is scored.")
    meeting = make_opened()
    state_position(finding_id=finding.pk, actor=member, stand="dissents", wording=1, text="Not tried cold.")
    state_position(finding_id=finding.pk, actor=member, stand="concurs", wording=1)
    adopt_finding(finding_id=finding.pk, actor=member, version=1, proof=prove(member))
    send_back_finding(finding_id=finding.pk, actor=member, reason="Look again.")
    withdraw_finding(finding_id=finding.pk, actor=member, reason="It was another seal.")
    name = f"F1 of {anomaly.number}"
    assert read(meeting) == [
        (
            "position",
            f"{name_of(member)} dissents from {name}, in its wording 1: The seal is scored. Grounds: Not tried cold.",
        ),
        ("position", f"{name_of(member)} concurs with {name}, in its wording 1: The seal is scored."),
        ("finding", f"{name} adopted: The seal is scored."),
        ("finding", f"{name} sent back to the board: The seal is scored."),
        ("finding", f"{name} withdrawn: The seal is scored."),
    ]
    lines = read_minutes(meeting).lines
    assert {(line.kind, line.key) for line in lines} == {("finding", finding.pk)}
    assert lines[-1].reason == "It was another seal."


def test_what_a_record_said_then_stays_though_it_changes_later():
    anomaly, member = make_open(), board_member()
    seat(anomaly)
    finding = make_finding(anomaly, statement="The seal is scored.")
    meeting = make_opened()
    state_position(finding_id=finding.pk, actor=member, stand="concurs", wording=1)
    end(meeting)
    told = read(meeting)
    edit_finding(finding_id=finding.pk, actor=member, version=1, changes={"statement": "The seal is cut."})
    assert read(meeting) == told
    assert "The seal is scored." in told[0][1]


def test_causes_events_actions_closures_waivers_and_verdicts_are_in_them():
    member, engineer = board_member(), safety_engineer()
    anomaly = make_open(title="Leak")
    cause = make_cause(anomaly, statement="A scored seal.")
    evidence = make_evidence(anomaly)
    report = make_reported(title="Odd")
    given_up = make_open(title="Never seen again")
    investigation = make_investigation()
    signed, waiver = make_signed(), make_waiver(kind="docking")
    meeting = make_opened()
    confirm_cause(cause_id=cause.pk, actor=member, version=1, rationale="It fits.", evidence_ids=[evidence.pk])
    action = make_done(cause.reread(), title="Replace the seal")
    verify(action)
    dropped = make_committed(cause.reread(), title="Heat it")
    drop_action(action_id=dropped.pk, actor=member, reason="Too heavy.")
    row = anomaly.reread()
    close_anomaly(anomaly_id=row.pk, actor=engineer, version=row.version, statement="The seal.", proof=prove(engineer))
    reopen_anomaly(anomaly_id=row.pk, actor=engineer, reason="It came back.")
    reconsider_cause(cause_id=cause.pk, actor=member, reason="New data.")
    accept(given_up, engineer)
    retract_acceptance(anomaly_id=given_up.pk, actor=engineer, reason="Seen after all.")
    dismiss_anomaly(anomaly_id=report.pk, actor=engineer, reason="Nothing.")
    restore_anomaly(anomaly_id=report.pk, actor=engineer, reason="Something.")
    screen_anomaly(
        anomaly_id=report.pk, actor=engineer, lead_id=member.pk, severity=2, probability="C", rationale="Rare."
    )
    judge_all(investigation)
    withdraw_waiver(waiver_id=waiver.pk, actor=engineer, reason="Mended.")
    resume_review(review_id=signed.pk, actor=engineer, reason="Anew.")
    end(meeting)
    told = read(meeting)
    number, due = anomaly.number, f"{action.due_on:%Y-%m-%d}"
    for expected in (
        ("cause", f"C1 of {number} (proximate cause) confirmed: A scored seal."),
        ("cause", f"C1 of {number} (proximate cause) opened again: A scored seal."),
        ("action", f"{action.number}, Replace the seal: verified."),
        ("action", f"{dropped.number}, Heat it: dropped."),
        ("closure", f"{number}, Leak: closed."),
        ("closure", f"{number}, Leak: reopened."),
        ("closure", f"{given_up.number}, Never seen again: its risk is accepted, the cause unexplained."),
        ("closure", f"{given_up.number}, Never seen again: the acceptance of its risk is retracted."),
        ("screening", f"{report.number}, Odd: dismissed."),
        ("screening", f"{report.number}, Odd: taken up again after it was dismissed."),
        ("screening", f"{report.number}, Odd: screened, risk 2C, {name_of(member)} leads the work."),
        ("readiness", f"Readiness of {signed.activity}: round 2 begun."),
    ):
        assert expected in told
    assert any(text.startswith(f"{action.number}, Replace the seal: committed, ") and due in text for _, text in told)
    assert any(text.startswith("Event ") and part == "cause" for part, text in told)
    assert any(text.startswith(f"{waiver.activity}: waiver withdrawn, until ") for _, text in told)


def test_every_entry_that_counts_is_one_that_services_write():
    assert set(TELLERS) <= set(DEEDS)


def test_who_was_not_there_is_marked_once_the_meeting_has_ended():
    report, engineer = make_reported(), safety_engineer()
    meeting = make_opened(person_ids=[board_member().pk])
    dismiss_anomaly(anomaly_id=report.pk, actor=engineer, reason="Nothing.")
    assert [line.outside for line in read_minutes(meeting).lines] == [False]
    end_meeting(meeting_id=meeting.pk, actor=engineer, person_ids=[recorder().pk])
    minutes = read_minutes(meeting.reread())
    assert [line.outside for line in minutes.lines] == [True]
    assert minutes.there == (name_of(recorder()),)
    assert set(minutes.absent) == {name_of(engineer), name_of(board_member())}


def test_a_meeting_beside_it_is_named_and_one_before_it_is_not():
    earlier = make_held(title="Earlier")
    meeting, other = make_opened(title="This"), make_opened(title="Other")
    assert read_minutes(meeting).beside == (other,)
    end(meeting)
    later = make_meeting(title="Later")
    open_meeting(meeting_id=later.pk, actor=safety_engineer())
    assert read_minutes(meeting.reread()).beside == (other,)
    assert read_minutes(earlier.reread()).beside == ()


def test_who_may_see_nothing_reads_nothing():
    report = make_reported()
    meeting = make_opened()
    dismiss_anomaly(anomaly_id=report.pk, actor=safety_engineer(), reason="Nothing.")
    minutes = read_minutes(meeting)
    assert [chapter.part.name for chapter in minutes.chapters_for(viewer())] == ["screening"]
    assert minutes.chapters_for(make_stranger()) == []


def read_pdf(pdf: bytes) -> tuple[str, tuple[float, float]]:
    """The text, and the size of the first page in points."""
    document = pypdfium2.PdfDocument(BytesIO(pdf))
    text = "\n".join(page.get_textpage().get_text_range() for page in document)
    return " ".join(text.split()), document[0].get_size()


@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_on_paper_they_hold_all_of_it(paper, size, settings):
    settings.MISSION_EPOCH = datetime(2024, 1, 1, tzinfo=UTC)
    left, report = make_reported(title="Left open"), make_reported(title="Odd light")
    meeting = make_opened(title="Board on the coupling")
    dismiss_anomaly(anomaly_id=report.pk, actor=safety_engineer(), reason="A reflection.")
    decision = make_decision(meeting, text="Meet on Tuesdays.", anomaly_id=left.pk)
    make_decision(meeting, text="Buy a valve.")
    withdraw_decision(decision_id=decision.pk, actor=board_member(), reason="Wednesdays.")
    end(meeting, board_member())
    text, found = read_pdf(print_minutes(meeting.reread(), viewer(), paper=paper))
    assert found == pytest.approx(size, abs=1)
    for words in (
        "Board on the coupling",
        "Withdrawn. Meet on Tuesdays. Withdrawn because: Wednesdays.",
        "Buy a valve.",
        f"{report.number}, Odd light: dismissed. Reason given: A reflection.",
        "(not at the meeting)",
        f"There {name_of(board_member())}",
        f"Absent {name_of(safety_engineer())}",
        "Still open when it ended",
        "Left open",
        "Screen it, or dismiss it.",
        "T+",
        "safety authority",
    ):
        assert words in text


def test_paper_that_nobody_has_is_refused():
    with pytest.raises(BadInput):
        print_minutes(make_opened(), viewer(), paper="a5")


def test_minutes_of_a_meeting_under_way_say_so_on_paper():
    text, _ = read_pdf(print_minutes(make_opened(), viewer()))
    assert "so far, the meeting is under way" in text
    assert "SHA-256" not in text
