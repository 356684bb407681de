"""Failure modes, occurrences, exposure and proposed values: what counts, what is refused, what the library gets."""

from __future__ import annotations

from datetime import timedelta

import pytest

from anomalies.errors import EditConflict
from anomalies.models import ExposureEntry, Occurrence, ParameterUpdate
from anomalies.reads.exposure import list_occurrences, read_exposure
from anomalies.reads.learning import count_experience, read_mode
from anomalies.reads.recurrence_rates import read_rates
from anomalies.services.activities import add_activity_hardware, complete_activity, start_activity
from anomalies.services.exposure import enter_exposure, import_exposure, withdraw_exposure
from anomalies.services.learning import (
    accept_update,
    add_failure_mode,
    edit_failure_mode,
    name_failure_mode,
    propose_update,
    refuse_update,
    take_back_failure_mode,
)
from anomalies.services.ledger_proof import prove_ledger
from config.kit.errors import BadInput, NotAllowed, Refused
from faulttree.models import DataSet, SharedValue
from faulttree.services.library import Change, Sent, change_values
from tests.anomalies.actions import make_verified
from tests.anomalies.learning import make_exposure, make_mode, make_proposal, make_rate
from tests.anomalies.people import (
    SEEN_AT,
    activity_lead,
    board_member,
    make_activity,
    make_draft,
    make_item,
    make_open,
    make_type,
    safety_engineer,
    viewer,
)
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db


def named(anomaly, mode, **changes):
    return name_failure_mode(anomaly_id=anomaly.pk, actor=board_member(), failure_mode_id=mode.pk, **changes)


def make_sortie(*serials):
    """A sortie of seven hours that used these items, and is over."""
    lead, activity = activity_lead(), make_activity()
    for serial in serials:
        add_activity_hardware(activity_id=activity.pk, actor=lead, item_id=make_item(serial).pk)
    start_activity(activity_id=activity.pk, actor=lead, at=SEEN_AT)
    return complete_activity(activity_id=activity.pk, actor=lead, at=SEEN_AT + timedelta(hours=7))


class TestFailureModes:
    def test_a_code_is_there_once(self):
        mode = make_mode()
        with refused(BadInput, code="code_taken"):
            add_failure_mode(
                actor=safety_engineer(), hardware_type_id=make_type().pk, code=mode.code, name="x", measure="hours"
            )

    @pytest.mark.parametrize("measure", ["outings", "cycles", "demands"])
    def test_counts_of_demands_inform_no_rate_per_hour(self, measure):
        rate, _ = make_rate(), make_type()
        with refused(BadInput, code="wrong_unit"):
            make_mode("OTHER", measure=measure, item_id=rate.pk)

    def test_an_edit_of_what_somebody_else_changed_is_a_conflict(self):
        mode = make_mode()
        given = {"failure_mode_id": mode.pk, "actor": safety_engineer(), "version": mode.version}
        edit_failure_mode(**given, changes={"name": "Seal weeps when cold"})
        with refused(EditConflict):
            edit_failure_mode(**given, changes={"name": "Another"})

    def test_only_a_safety_engineer_adds_one(self):
        kind = make_type()
        with refused(NotAllowed):
            add_failure_mode(actor=board_member(), hardware_type_id=kind.pk, code="X", name="x", measure="hours")


class TestOccurrences:
    def test_an_anomaly_counts_until_it_is_taken_back(self):
        anomaly, mode = make_open(), make_mode()
        named(anomaly, mode, count=2)
        assert [row.count for row in list_occurrences(mode)] == [2]
        take_back_failure_mode(anomaly_id=anomaly.pk, actor=board_member(), failure_mode_id=mode.pk)
        assert list_occurrences(mode) == []
        named(anomaly, mode, count=3)
        assert [row.count for row in list_occurrences(mode)] == [3]
        assert Occurrence.objects.count() == 1

    def test_twice_or_never_is_refused(self):
        anomaly, mode = make_open(), make_mode()
        with refused(BadInput, code="not_named"):
            take_back_failure_mode(anomaly_id=anomaly.pk, actor=board_member(), failure_mode_id=mode.pk)
        named(anomaly, mode)
        with refused(BadInput, code="named_already"):
            named(anomaly, mode)

    def test_a_draft_is_no_occurrence(self):
        draft, mode = make_draft(), make_mode()
        with refused(Refused, code="not_counted"):
            named(draft, mode)

    def test_none_at_all_is_refused(self):
        anomaly, mode = make_open(), make_mode()
        with refused(BadInput, code="at_least_one"):
            named(anomaly, mode, count=0)


class TestExposure:
    def test_an_activity_counts_each_item_for_its_length(self):
        make_sortie("A", "B")
        kind = make_type()
        assert read_exposure(kind, "hours").total == pytest.approx(14.0)
        assert read_exposure(kind, "outings").total == 2.0
        assert read_exposure(kind, "cycles").total == 0.0

    def test_an_entry_stands_in_place_of_its_activity(self):
        activity, kind = make_sortie("A", "B"), make_type()
        make_exposure(9.0, activity_id=activity.pk)
        assert read_exposure(kind, "hours").total == 9.0
        assert read_exposure(kind, "outings").total == 2.0
        with refused(BadInput, code="twice"):
            make_exposure(9.0, activity_id=activity.pk)

    def test_an_entry_counts_in_the_span_in_which_it_ends(self):
        make_exposure(5.0)
        kind = make_type()
        assert read_exposure(kind, "hours", since=SEEN_AT).total == 0.0
        assert read_exposure(kind, "hours", until=SEEN_AT).total == 5.0

    def test_a_withdrawn_entry_does_not_count(self):
        entry = make_exposure()
        withdraw_exposure(exposure_id=entry.pk, actor=activity_lead(), reason="Wrong type.")
        assert read_exposure(make_type(), "hours").total == 0.0

    @pytest.mark.parametrize(
        ("changes", "field"),
        [
            ({"amount": -1.0}, "amount"),
            ({"amount": float("inf")}, "amount"),
            ({"measure": "miles"}, "measure"),
            ({"end": SEEN_AT - timedelta(days=30)}, "end"),
            ({"source": ""}, "source"),
        ],
    )
    def test_what_can_not_be_entered(self, changes, field):
        make_type()
        with refused(BadInput) as caught:
            make_exposure(**{"amount": 5.0} | changes)
        assert field in caught.value.fields

    def test_an_activity_without_the_type_is_refused(self):
        activity = make_sortie("A")
        other = make_type("GLV-1")
        with refused(BadInput, code="not_used"):
            make_exposure(5.0, hardware_type_id=other.pk, activity_id=activity.pk)

    def test_only_those_who_keep_the_log_enter(self):
        given = {"hardware_type_id": make_type().pk, "measure": "hours", "amount": 1.0, "source": "x"}
        with refused(NotAllowed):
            enter_exposure(actor=viewer(), start=SEEN_AT, end=SEEN_AT, **given)


HEAD = "part_number,measure,amount,start,end,source"


class TestImport:
    def test_every_line_counts(self):
        make_type()
        lines = [
            "UMB-200,cycles,120,2024-01-01T00:00,2024-01-31,Bench log",
            "UMB-200,hours,3.5,2024-01-01,2024-01-02,Log",
        ]
        table = "\n".join([HEAD, *lines])
        assert len(import_exposure(actor=activity_lead(), table=table)) == 2
        assert read_exposure(make_type(), "cycles").total == 120.0

    def test_every_fault_is_named_by_line_and_column_and_nothing_is_saved(self):
        make_type()
        lines = [
            "UMB-200,cycles,120,2024-01-01,2024-01-31,Bench log",
            "UMB-999,miles,many,yesterday,2024-01-31,",
            "UMB-200,hours,-3,2024-02-01,2024-01-31,Log",
        ]
        with refused(BadInput, code="bad_table") as caught:
            import_exposure(actor=activity_lead(), table="\n".join([HEAD, *lines]))
        said = caught.value.fields["table"]
        for words in (
            "Line 3, part_number",
            "Line 3, measure",
            "Line 3, amount",
            "Line 3, start",
            "Line 3, source",
            "Line 4, amount",
            "Line 4, end",
        ):
            assert any(each.startswith(words) for each in said), words
        assert not any(each.startswith("Line 2") for each in said)
        assert ExposureEntry.objects.count() == 0

    @pytest.mark.parametrize(
        ("table", "code"), [("amount,end\n1,2", "bad_head"), (HEAD, "bad_length"), ("", "bad_head")]
    )
    def test_a_table_that_is_none(self, table, code):
        make_type()
        with refused(BadInput, code=code):
            import_exposure(actor=activity_lead(), table=table)


class TestProposals:
    def test_prior_and_experience_give_the_closed_form(self):
        """gamma(2, 10,000 h) with 1 in 400 h gives gamma(3, 10,400 h)."""
        mode = make_mode()
        named(make_open(), mode)
        make_exposure(400.0)
        row = propose_update(failure_mode_id=mode.pk, actor=safety_engineer())
        assert (row.posterior["a"], row.posterior["b"]) == (3.0, pytest.approx(10_400.0))
        assert row.expression == {"gamma-deviate": [3.0, pytest.approx(1 / 10_400, rel=1e-5)]}
        assert SharedValue.objects.count() == 1  # nothing of the library changed

    def test_an_accepted_one_is_in_the_library_and_counts_no_experience_twice(self):
        mode = make_mode()
        named(make_open(), mode)
        row = make_proposal()
        accept_update(update_id=row.pk, actor=safety_engineer(), note="Two years of log.")
        row = row.reread()
        value = SharedValue.objects.order_by("-pk").first()
        assert value.data_set == row.data_set == DataSet.objects.newest()
        assert value.expression == row.expression
        assert value.source_kind == "service"
        assert "Agreed." in value.source
        assert count_experience(mode).amount == 0.0
        with refused(Refused, code="nothing_new"):
            make_proposal()
        assert prove_ledger().is_whole

    def test_what_came_in_late_counts_once(self):
        mode = make_mode()
        accept_update(update_id=make_proposal().pk, actor=safety_engineer(), note="Two years of log.")
        named(make_open(), mode)  # it occurred before the update counted
        make_exposure(50.0)  # and so did this exposure
        new = count_experience(mode)
        assert (new.count, new.amount) == (new.late_count, new.late_amount) == (1, 50.0)
        row = make_proposal()
        assert "+1 in +50" in row.data["window"]
        # Gamma of shape 2 and 10,000 hours, then 0 in 400, then 1 in 50: as if all had been counted at once.
        assert (row.posterior["a"], row.posterior["b"]) == (pytest.approx(3.0), pytest.approx(10_450.0, rel=1e-5))
        accept_update(update_id=row.pk, actor=safety_engineer(), note="A late entry.")
        assert (count_experience(mode).count, count_experience(mode).amount) == (0, 0.0)

    def test_what_was_counted_and_taken_back_is_subtracted(self):
        mode, entry = make_mode(), make_exposure(400.0)
        accept_update(update_id=make_proposal().pk, actor=safety_engineer(), note="Two years of log.")
        withdraw_exposure(exposure_id=entry.pk, actor=activity_lead(), reason="Another bench.")
        assert count_experience(mode).amount == -400.0
        assert "taken back" in read_mode(mode).why_not
        with refused(Refused, code="nothing_new", match="taken back"):
            propose_update(failure_mode_id=mode.pk, actor=safety_engineer())
        make_exposure(1_000.0)
        assert count_experience(mode).amount == pytest.approx(600.0)

    def test_one_that_the_library_left_behind_is_refused(self):
        row = make_proposal()
        change_values(
            actor=safety_engineer(),
            changes=[
                Change(row.item_id, Sent({"gamma-deviate": [4.0, 1e-4]}, "judgement", "New.", unit="hours-1"), row.seen)
            ],
        )
        with refused(Refused, code="moved_on"):
            accept_update(update_id=row.pk, actor=safety_engineer(), note="So.")

    def test_one_at_a_time_for_a_value(self):
        make_proposal()
        with refused(Refused, code="waiting"):
            make_proposal()

    def test_a_decision_says_why(self):
        row = make_proposal()
        with refused(BadInput):
            accept_update(update_id=row.pk, actor=safety_engineer(), note=" ")
        refuse_update(update_id=row.pk, actor=safety_engineer(), note="The log has gaps.")
        assert ParameterUpdate.objects.get().decision_note == "The log has gaps."
        assert SharedValue.objects.count() == 1

    @pytest.mark.parametrize(
        ("prior", "numbers", "mean"),
        [
            ("jeffreys", {}, 0.5 / 400),
            ("constrained", {"mean": 1e-3}, 0.5 / (500 + 400)),
            ("gamma", {"a": 3.0, "b": 600.0}, 3 / 1000),
        ],
    )
    def test_other_priors(self, prior, numbers, mean):
        """Nothing in 400 h: gamma(1/2, T), gamma(1/2, 1/(2 mean) + T), gamma(a, b + T)."""
        row = make_proposal(prior=prior, numbers=numbers)
        assert row.posterior["mean"] == pytest.approx(mean)

    @pytest.mark.parametrize(
        ("prior", "numbers", "code"),
        [
            ("gamma", {"a": 3.0}, "missing_number"),
            ("lognormal", {"mean": 1.0, "error_factor": 1.0}, "bad_prior"),
            ("x", {}, "no_prior"),
        ],
    )
    def test_a_prior_that_is_none(self, prior, numbers, code):
        make_mode()
        make_exposure()
        with refused(BadInput, code=code):
            make_proposal(prior=prior, numbers=numbers)

    def test_a_mode_that_informs_nothing_proposes_nothing(self):
        mode = make_mode("OTHER", item_id=None)
        with refused(BadInput, code="no_item"):
            propose_update(failure_mode_id=mode.pk, actor=safety_engineer())
        assert "informs nothing" in read_mode(mode).why_not


class TestRates:
    def test_before_and_since_an_action(self, settings, tmp_path):
        settings.EVIDENCE_DIR = str(tmp_path)
        action, mode = make_verified(), make_mode()
        named(action.anomaly, mode, count=8)
        kind = mode.hardware_type_id
        make_exposure(1000.0, hardware_type_id=kind)
        done = action.done_at
        make_exposure(1000.0, hardware_type_id=kind, start=done, end=done + timedelta(seconds=1))
        [row] = read_rates(action, 0.95)
        assert (row.before.count, row.before.exposure, row.since.count, row.since.exposure) == (8, 1000.0, 0, 1000.0)
        assert row.comparison.p_improved == pytest.approx(2**-8)  # 8 before and 0 after in equal exposure
        assert row.is_shown
        assert row.needed == 0.0
        assert row.upper == pytest.approx(2.995732274 / 1000)

    def test_an_action_that_is_not_verified_has_none(self, settings, tmp_path):
        settings.EVIDENCE_DIR = str(tmp_path)
        from tests.anomalies.actions import make_done

        assert read_rates(make_done()) == []
