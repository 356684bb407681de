"""`manage.py quantify`: what it prints, what it refuses, how it ends."""

from __future__ import annotations

import io
import json
import os
import pty
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import call_command

from faulttree.management.progress import ProgressLine
from tests.builders import wide_tree

ROOT = Path(__file__).resolve().parents[2]

PUMPS = """<opsa-mef>
  <define-fault-tree name="pumps">
    <define-gate name="no-flow"><or><gate name="both"/><basic-event name="valve"/></or></define-gate>
    <define-gate name="both"><and><basic-event name="pump-1"/><basic-event name="pump-2"/></and></define-gate>
    <define-basic-event name="valve"><float value="0.01"/></define-basic-event>
    <define-basic-event name="pump-1">
      <exponential><parameter name="rate"/><system-mission-time/></exponential>
    </define-basic-event>
    <define-basic-event name="pump-2"><float value="0.2"/></define-basic-event>
    <define-parameter name="rate" unit="hours-1">
      <lognormal-deviate><float value="0.01"/><float value="3"/><float value="0.95"/></lognormal-deviate>
    </define-parameter>
  </define-fault-tree>
</opsa-mef>
"""


@pytest.fixture
def pumps(tmp_path):
    path = tmp_path / "pumps.xml"
    path.write_text(PUMPS)
    return str(path)


def run(*arguments: str) -> tuple[int, str, str]:
    """Call the command; returns exit code, standard output, standard error."""
    out, err = io.StringIO(), io.StringIO()
    try:
        call_command("quantify", *arguments, stdout=out, stderr=err)
    except SystemExit as ended:
        return int(ended.code or 0), out.getvalue(), err.getvalue()
    return 0, out.getvalue(), err.getvalue()


def test_json_is_one_object_with_every_key(pumps):
    code, out, err = run(
        *(pumps, "--mission-time", "10", "--json", "--time-grid", "0:10:5", "--samples", "200", "--seed", "7"),
        *("--evidence", "pump-1=not-occurred"),
    )
    assert (code, err) == (0, "")
    answer = json.loads(out)
    assert {
        *("tree", "top", "mission_time", "coherent", "events", "gates", "modules", "method", "probability"),
        *("rare_event", "min_cut_upper_bound", "cut_sets", "importance", "time", "average_probability"),
        *("expected_failures", "uncertainty", "posterior", "evidence_probability", "seconds", "peak_memory_mib"),
    } <= set(answer)
    assert answer["method"] == "exact"
    assert "lower" not in answer
    assert set(answer["importance"]["valve"]) == {
        *("birnbaum", "criticality", "fussell_vesely_union", "fussell_vesely_rare_event"),
        *("risk_achievement_worth", "risk_reduction_worth", "diagnostic"),
    }
    assert {"mean", "standard_deviation", "p05", "p50", "p95", "samples", "seed"} <= set(answer["uncertainty"])
    assert [point["t"] for point in answer["time"]] == [0.0, 5.0, 10.0]


def test_the_figures_are_those_of_the_formula(pumps):
    _, out, _ = run(pumps, "--mission-time", "10", "--json")
    answer = json.loads(out)
    pump = answer["importance"]["pump-1"]["birnbaum"] / (0.2 * 0.99)
    assert pump == pytest.approx(1.0, rel=1e-12)
    listed = {tuple(cut["events"]): cut["probability"] for cut in answer["cut_sets"]["listed"]}
    both = listed["pump-1", "pump-2"]
    assert listed["valve",] == 0.01
    assert answer["probability"] == pytest.approx(1 - 0.99 * (1 - both), rel=1e-12)
    assert answer["cut_sets"]["count"] == 2
    assert answer["cut_sets"]["by_order"] == {"1": 1, "2": 1}


def test_lists_are_cut_as_asked_but_the_count_is_not(pumps):
    for options, listed in [
        (["--list", "1"], [["pump-1", "pump-2"]]),
        (["--max-order", "1"], [["valve"]]),
        (["--min-probability", "0.0101"], [["pump-1", "pump-2"]]),
    ]:
        _, out, _ = run(pumps, "--mission-time", "10", "--json", *options)
        answer = json.loads(out)["cut_sets"]
        assert [cut["events"] for cut in answer["listed"]] == listed
        assert answer["count"] == 2


def test_the_summary_says_method_assumptions_and_caution(pumps):
    code, out, _ = run(
        *(pumps, "--mission-time", "10", "--samples", "50", "--time-grid", "0:10:5"),
        *("--evidence", "pump-1=occurred"),
    )
    assert code == 0
    assert "exact" in out
    assert "mission time 10 h" in out
    assert "pump-1 · pump-2" in out
    assert "Decision support" in out
    assert "Uncertainty (50 samples" in out
    assert "average probability" in out
    assert "Given that the top event happened" in out
    assert "independent" in out


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ([], "mission time"),
        (["--mission-time", "-1"], "mission time"),
        (["--mission-time", "nan"], "mission time"),
        (["--mission-time", "5", "--top", "lamp"], "lamp"),
        (["--mission-time", "5", "--list", "-1"], "listed cut sets"),
        (["--mission-time", "5", "--time-grid", "0:8"], "START:STOP:STEP"),
        (["--mission-time", "5", "--time-grid", "8:0:1"], "START < STOP"),
        (["--mission-time", "5", "--evidence", "valve=maybe"], "NAME=occurred"),
        (["--mission-time", "5", "--evidence", "lamp=occurred"], "lamp"),
        (["--mission-time", "5", "--evidence", "valve=occurred", "--evidence", "valve=not-occurred"], "valve"),
        (["--mission-time", "5", "--seconds", "nan"], "--seconds"),
        (["--mission-time", "5", "--node-budget", "0"], "--node-budget"),
    ],
)
def test_what_cannot_be_used_is_refused_in_one_line(options, said, pumps):
    code, out, err = run(pumps, *options, "--json")
    assert code == 2
    assert out == ""
    assert said in err
    assert err.count("\n") == 1


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("<opsa-mef", "well-formed"),
        ('<!DOCTYPE a [<!ENTITY b "c">]><opsa-mef/>', "document type"),
        (
            PUMPS.replace('<basic-event name="valve"/>', '<basic-event name="lamp"/><gate name="lid"/>', 1),
            "1 more problem",
        ),
        (PUMPS.replace('"0.01"', '"1.5"', 1), "valve"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_with_its_place(text, said, tmp_path):
    path = tmp_path / "broken.xml"
    path.write_text(text)
    code, out, err = run(str(path), "--mission-time", "5")
    assert (code, out) == (2, "")
    assert said in err
    assert "broken.xml" in err or "valve" in err
    assert err.count("\n") == 1


def test_a_file_that_is_missing_or_too_big_is_refused(tmp_path, pumps, settings):
    assert run(str(tmp_path / "none.xml"))[0] == 2
    assert run(str(tmp_path))[0] == 2
    settings.MODEL_MAX_BYTES = 10
    code, _, err = run(pumps)
    assert code == 2
    assert "at most 10 are read" in err


def test_past_the_budget_the_answer_is_a_bracket_and_exit_code_3(tmp_path):
    path = tmp_path / "wide.xml"
    path.write_text(wide_tree(60))
    code, out, _ = run(str(path), "--node-budget", "2000", "--seconds", "3", "--json")
    answer = json.loads(out)
    assert code == 3
    assert answer["method"] == "bracket"
    assert "probability" not in answer
    assert 0.0 <= answer["lower"] <= answer["upper"] <= 1.0
    code, out, _ = run(str(path), "--node-budget", "2000", "--seconds", "3")
    assert code == 3
    assert "certified bracket, not exact" in out


def test_ctrl_c_ends_it_cleanly_and_progress_shows_on_a_terminal(tmp_path):
    path = tmp_path / "wide.xml"
    path.write_text(wide_tree(160))
    ours, theirs = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "manage.py", "quantify", str(path)],
        cwd=ROOT,
        env=os.environ | {"DJANGO_SETTINGS_MODULE": "config.settings.test"},
        stdout=subprocess.PIPE,
        stderr=theirs,
        text=True,
    ) as process:
        os.close(theirs)
        seen = ""
        while "Building decision diagrams" not in seen:
            seen += os.read(ours, 1024).decode(errors="replace")
        process.send_signal(signal.SIGINT)
        out, _ = process.communicate(timeout=30)
    seen += os.read(ours, 65536).decode(errors="replace")
    os.close(ours)
    assert process.returncode == 130
    assert out == ""
    assert "─" in seen
    assert seen.endswith("\rInterrupted; there is no result.\r\n")


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_progress_is_drawn_for_people_only(monkeypatch):
    clock = iter([0.0, 1.0, 1.01, 2.0, 0.0, 1.0])
    monkeypatch.setattr("faulttree.management.progress.time.monotonic", lambda: next(clock))
    watched = Terminal()
    line = ProgressLine(watched)
    line("Building", 0.5)
    line("Building", 0.6)  # too soon after the one before
    line("Done", 1.0)
    line.clear()
    assert watched.getvalue().count("\r") == 4
    assert "Building" in watched.getvalue()
    assert "━" * 24 + " Done" in watched.getvalue()
    piped = io.StringIO()
    line = ProgressLine(piped)
    line("Building", 0.5)
    line.clear()
    assert piped.getvalue() == ""
