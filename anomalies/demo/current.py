"""The stories that aren't over: a display that came back, a coupling that leaks, and the umbilical of Sortie 6."""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from anomalies.demo.effects import say_effects
from anomalies.demo.fault_tree import open_tree, work_tree
from anomalies.demo.procedures import MATING, acknowledge, add_line, redraft, release, use, write_procedure
from anomalies.demo.setting import play_activity
from anomalies.demo.stage import Stage, Story
from anomalies.models import Anomaly, Cause, Evidence, Procedure, ProcedureRevision
from anomalies.services.actions import propose_action
from anomalies.services.anomalies import draft_anomaly
from anomalies.services.evidence import add_evidence
from anomalies.services.findings import propose_finding, state_position
from anomalies.services.hardware import install_hardware, quarantine_hardware, remove_hardware
from anomalies.services.revision_moves import submit_revision
from anomalies.services.ties import constrain, link_anomalies


def display_again(stage: Stage) -> Story:
    """Sortie 5: the display drops out again, and the old story is open once more."""
    yield stage.when(-189, 9)
    again = stage.report(
        "farrant",
        "Suit display dropped out again, with the new unit",
        stage.when(-190, 10),
        sortie="Sortie 5",
        serials=["S1", "D22"],
        description="Dark for ten seconds when reaching over the head. Once.",
    )
    link_anomalies(
        source_id=again.pk,
        target_id=stage.anomalies["display"].pk,
        kind="recurrence",
        actor=stage.people["engineer"],
        note="Same suit, same movement, another display.",
    )
    stage.screen(again, 3, "C", "As before; but the fix of the first one didn't hold.", lead="anselm")
    bench = stage.document(again, "thorne", "Bench test of D22", "bench-test-D22.txt", "D22: 400 bends, never dark.")
    cause = stage.cause(again, "proximate", "The connector on the suit side opens, not the one on the display.")
    stage.cause(again, "contributing", "The clamp was fitted by hand, without a torque.", above=cause)
    display = stage.cause(again, "proximate", "The new display has the same weak pin.")
    stage.rule_out(display, "400 bends on the bench.", bench)


def coupling(stage: Stage) -> Story:
    """Transfer 11: the coupling leaks; the fix awaits verification."""
    yield from play_activity(stage, "Propellant transfer 11")
    yield stage.when(-260, 20)
    anomaly = stage.report(
        "farrant",
        "Transfer coupling X2 leaked at the end of chill-down",
        stage.when(-260, 9.4),
        sortie="Propellant transfer 11",
        serials=["X2"],
        place="Port 2",
        description="Pressure between the seals rose to 21 kPa in two minutes, limit 5 kPa. Fell when warm.",
        immediate_response="Transfer held for forty minutes, then done at the slow rate.",
    )
    csv = "time,value\n"
    for minute in range(90):
        level = 2 + 19 * math.exp(-(((minute - 26) / 9) ** 2))
        csv += f"{(stage.when(-260, 9) + timedelta(minutes=minute)).isoformat()},{level:.2f}\n"
    series = add_evidence(
        anomaly_id=anomaly.pk,
        actor=stage.people["farrant"],
        kind="telemetry",
        title="Pressure between the seals, X2",
        unit="kPa",
        high=5.0,
        file=SimpleUploadedFile("x2-seal-pressure.csv", csv.encode()),
    )
    yield stage.when(-258)
    stage.screen(anomaly, 2, "C", "A leak of propellant at the port.", lead="anselm")
    yield stage.when(-230)
    test = stage.document(
        anomaly, "thorne", "Cold test of the seal", "seal-cold-test.txt", "Seal gap 0.08 mm at -150 C."
    )
    finding = stage.find(
        anomaly,
        "The primary seal of X2 opens by 0.08 mm when the coupling is cold and the ring still warm.",
        test,
        series,
        dissent="The test ring was cooled evenly; on the depot the sun warms one side. 0.08 mm is a lower bound.",
    )
    root = stage.cause(anomaly, "root", "Ring and seat shrink at different rates during a fast chill-down.", finding)
    stage.confirm(root, "Gap measured while only the seat was cold.", test)
    action = stage.act(
        "limit",
        "Chill the coupling down in no less than thirty minutes",
        "Two transfers stay under 5 kPa.",
        root,
        days=200,
        watch_activities=4,
        needed_before_id=stage.activities["Propellant transfer 13"].pk,
    )
    yield from play_activity(stage, "Propellant transfer 12")
    yield stage.when(-85)
    stage.done(action, "The chill-down valve sequence now takes 32 minutes; used at transfer 12: 3.1 kPa at most.")


def umbilical(stage: Stage) -> Story:
    """Sortie 6: umbilical B07 weeps coolant, and the sortie ends early. The board is at work on it."""
    yield stage.when(-60)
    mating = write_procedure(stage, "Mate the umbilical at the vehicle side", "operation", MATING, "First issue.")
    play = stage.activities["Sortie 7"]
    use(stage, mating, play)
    first = mating.revisions.get()
    yield stage.when(-50)
    release(stage, first, play)
    yield from play_activity(stage, "Sortie 6")
    yield stage.when(-21, 11)
    anomaly = stage.report(
        "ketter",
        "Coolant wept at the vehicle-side quick disconnect of umbilical B07",
        stage.when(-21, 9.9),
        sortie="Sortie 6",
        serials=["B07", "Q31", "S1"],
        place="Airlock, outer panel",
        activity_cut_short=True,
        description="EV2 saw frost at the collar, then drops that froze as they left. Loop pressure fell "
        "from 98 to 90 kPa "
        "in twelve minutes. No coolant on the suits that the crew could see.",
        immediate_response="V3 closed by EV1, both crew inside on suit cooling alone. Sortie ended after 2.4 hours.",
    )
    series = _loop_pressure(stage, anomaly, stage.when(-21, 9))
    stage.tell(
        anomaly,
        "ketter",
        (stage.when(-21, 8.1), "Hatch open, on umbilicals."),
        (stage.when(-21, 9.9), "EV2 reports frost at the collar."),
        (stage.when(-21, 10.1), "V3 closed."),
        (stage.when(-21, 10.5), "Both crew inside, hatch closed."),
    )
    seen_by = stage.statement(
        anomaly,
        "farrant",
        "What EV2 saw",
        "L. Farrant",
        "Frost on the lower half of the collar, the size of a thumb. Then drops, one in two seconds. The "
        "lock ring looked "
        "turned. I did not hear the collar click when we mated, but the pump was running.",
    )
    for serial in ("B07", "Q31"):
        quarantine_hardware(item_id=stage.items[serial].pk, actor=stage.people["osk"], reason="Wept coolant.")
    stage.anomalies["umbilical"] = anomaly
    yield stage.when(-20)
    stage.screen(anomaly, 2, "C", "Loss of umbilical cooling ends a sortie; with a second failure the crew overheats.")
    for keys, text in (
        ({"activity_id": stage.activities["Sortie 7"].pk}, "Not before the cause is known and the seal replaced."),
        (
            {"hardware_type_id": stage.items["Q31"].type_id},
            "No quick disconnect of this type outside without a new seal.",
        ),
    ):
        constrain(anomaly_id=anomaly.pk, actor=stage.people["engineer"], statement=text, **keys)
    yield stage.when(-14)
    yield from _investigate(stage, anomaly, mating, series, seen_by)
    yield stage.when(-3)
    draft_anomaly(
        actor=stage.people["ketter"],
        title="Airlock light flickers",
        occurred_at=stage.when(-3, -2),
        place="Airlock",
    )
    stage.report(
        "farrant",
        "Cuff of glove G105 is worn through to the second layer",
        stage.when(-20, 12),
        sortie="Sortie 6",
        serials=["G105"],
        place="Suit bay",
        description="Seen when the suits were serviced. Two patches of 8 mm.",
    )


def _investigate(stage: Stage, anomaly: Anomaly, mating: Procedure, series: Evidence, seen_by: Evidence) -> Story:
    teardown = stage.document(
        anomaly,
        "thorne",
        "Tear-down of quick disconnect Q31",
        "tear-down-Q31.txt",
        "Seal: a score of 11 mm along the inner edge, 0.2 mm deep. Collar: detent in order, clicks at 41 N.\n"
        "Lock ring: can be turned with the collar 1.5 mm short of home. Hose of B07: holds 200 kPa for an hour.",
    )
    scored = stage.find(
        anomaly, "The seal of Q31 is scored along 11 mm; the score fits the edge of the lock ring.", teardown
    )
    early = stage.find(
        anomaly,
        "The lock ring can be turned while the collar is 1.5 mm short of home.",
        teardown,
        seen_by,
        dissent="It can on the bench. On the panel the bracket leaves no room to turn it by more than a few degrees; "
        "this should be tried there before we rest a cause on it.",
    )
    open_one = propose_finding(
        anomaly_id=anomaly.pk,
        actor=stage.people["hollin"],
        kind="observation",
        evidence_ids=[series.pk, seen_by.pk],
        statement="Nobody saw the frost for eight minutes after the loop pressure had left its limits.",
    )
    state_position(finding_id=open_one.pk, actor=stage.people["hollin"], stand="concurs", wording=1)
    tree = open_tree(stage, anomaly)

    def event(code: str) -> dict[str, Any]:
        """The event of the tree that a cause stands for."""
        return {"tree_id": tree.tree_id, "event_code": code} if tree else {}

    leak = stage.cause(
        anomaly, "proximate", "Coolant passed the scored seal of the quick disconnect.", scored, **event("score-leaks")
    )
    ring = "The lock ring was turned before the collar was home."
    turned = stage.cause(anomaly, "intermediate", ring, early, above=leak, **event("collar-short"))
    design = stage.cause(anomaly, "root", "Nothing keeps the ring from being turned early.", early, above=turned)
    click = "The click can't be heard while the airlock pump runs."
    stage.cause(anomaly, "contributing", click, above=turned, **event("click-not-heard"))
    hose = stage.cause(anomaly, "proximate", "The hose of B07 leaks.", **event("hose-leaks"))
    stage.confirm(leak, "Score at the place of the frost.", teardown)
    stage.rule_out(hose, "Held 200 kPa for an hour.", teardown)
    stage.confirm(design, "The ring turns on the bench with the collar short of home.", teardown)
    if tree is not None:
        work_tree(stage, tree, teardown, scored)
    yield from _act(stage, anomaly, mating, leak, design)


def _act(stage: Stage, anomaly: Anomaly, mating: Procedure, leak: Cause, design: Cause) -> Story:
    sortie = stage.activities["Sortie 7"].pk
    old, new = (stage.items[serial] for serial in ("Q31", "Q36"))
    yield stage.when(-12)
    replace = stage.act(
        "replacement",
        "Replace quick disconnect Q31 by Q36",
        "No drop in two hours at 110 kPa.",
        leak,
        needed_before_id=sortie,
        days=15,
        watch_activities=3,
    )
    procedure = stage.act(
        "procedure",
        "Have the collar checked by eye and pull before the ring is turned",
        "Both crews mate by it without help.",
        design,
        needed_before_id=sortie,
        days=18,
    )
    kit = stage.act(
        "kit",
        "Carry two spare seals and a seal pick in the airlock",
        "Both are in locker 3.",
        leak,
        owner="osk",
        needed_before_id=sortie,
        days=16,
    )
    ring = propose_action(
        anomaly_id=anomaly.pk,
        actor=stage.people["thorne"],
        kind="design",
        title="A ring that turns only when the collar is home",
        description="A pin of 2 mm in the collar that blocks the ring. For the next build of the disconnect.",
        cause_ids=[design.pk],
    )
    yield stage.when(-8)
    lead = stage.people["osk"]
    remove_hardware(item_id=old.pk, actor=lead, location="Return bag 6", reason="Scored seal.")
    install_hardware(item_id=new.pk, parent_id=stage.items["B07"].pk, actor=lead, reason="Replaces Q31.")
    stage.done(
        replace,
        "Q31 out, Q36 in, on the bench in the airlock.",
        removed_item_id=old.pk,
        installed_item_id=new.pk,
        retest="passed",
        retest_note="Two hours at 110 kPa, no drop seen.",
    )
    yield stage.when(-5)
    revision = redraft(stage, mating, "Check by eye and pull that the collar is home.", action=procedure)
    steps = revision.read_steps()
    _add_check(stage, revision.pk, steps[2].key)
    submit_revision(revision_id=revision.pk, actor=stage.people["thorne"], version=revision.reread().version)
    acknowledge(stage, mating.revisions.order_by("number")[0], "ketter")
    if hasattr(anomaly.reread(), "investigation"):
        say_effects(stage, [replace, procedure, kit, ring])


def _add_check(stage: Stage, revision_id: int, after: str) -> None:
    revision = ProcedureRevision.objects.get(pk=revision_id)
    line = (
        "check",
        "Look at the gap between collar and panel, then pull the collar once.",
        {"expected": "no gap, collar holds", "unit": "", "low": "", "high": ""},
        ("warning", "Never turn the lock ring on a collar that isn't home: it scores the seal."),
    )
    add_line(stage, revision, line, after=after)


def _loop_pressure(stage: Stage, anomaly: Anomaly, start: datetime) -> Evidence:
    """A pressure that is steady, then falls as the coupling weeps, and recovers once the valve is closed."""
    lines = ["time,value"]
    for second in range(0, 2 * 3600, 20):
        minute = second / 60
        level = 98.0 + 0.4 * math.sin(minute / 3.1) + 0.15 * math.sin(second * 1.7)
        if minute > 46:
            level -= min((minute - 46) * 0.66, 8.5)
        if minute > 66:
            level += min((minute - 66) * 0.5, 6.0)
        lines.append(f"{(start + timedelta(seconds=second)).isoformat()},{level:.2f}")
    return add_evidence(
        anomaly_id=anomaly.pk,
        actor=stage.people["ketter"],
        kind="telemetry",
        title="Coolant loop pressure, Sortie 6",
        unit="kPa",
        low=92.0,
        high=104.0,
        file=SimpleUploadedFile("loop-pressure.csv", "\n".join(lines).encode()),
    )
