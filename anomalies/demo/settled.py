"""The older stories: what went wrong in the first year, and how each ended."""

from __future__ import annotations

from anomalies.demo.procedures import PUMP, redraft, release, use, write_procedure
from anomalies.demo.setting import play_activity
from anomalies.demo.stage import Stage, Story
from anomalies.services.activities import complete_activity, plan_activity, scrub_activity, start_activity
from anomalies.services.hardware import install_hardware, remove_hardware
from anomalies.services.revision_steps import change_revision_step
from anomalies.services.screening import dismiss_anomaly
from anomalies.services.ties import link_anomalies
from anomalies.services.unexplained import accept_unexplained
from anomalies.services.verification import find_action_effective


def suit_display(stage: Stage) -> Story:
    """Sortie 1: a display drops out; the unit is replaced. It will come back."""
    yield from play_activity(stage, "Sortie 1")
    yield stage.when(-610, 11)
    seen = stage.when(-610, 11)
    anomaly = stage.report(
        "ketter",
        "Suit display of EV1 dropped out for forty seconds",
        stage.when(-610, 10.2),
        sortie="Sortie 1",
        serials=["S1", "D18"],
        place="Port 2, outer face",
        description="The display went dark after the suit arm was bent hard, came back by itself, then twice more.",
        immediate_response="Read suit values by voice from the console until back inside.",
    )
    stage.tell(anomaly, "ketter", (stage.when(-610, 10.2), "Display dark for the first time."), (seen, "Third time."))
    stage.anomalies["display"] = anomaly
    yield stage.when(-608)
    stage.screen(anomaly, 3, "C", "Values can be read by voice; the crew loses time and attention.")
    yield stage.when(-600)
    report = stage.document(
        anomaly,
        "thorne",
        "Bench test of display D18",
        "bench-test-D18.txt",
        "Display D18 on the bench, 400 bends of the arm harness. Dark 3 times, each when pin 7 moved.\n"
        "Pin 7: fretting, contact resistance 0.4 to 11 ohm. Harness of S1: within limits.",
    )
    finding = stage.find(anomaly, "Pin 7 of display D18 is fretted and opens when the arm is bent.", report)
    proximate = stage.cause(anomaly, "proximate", "Pin 7 of the display's connector opens under bending.", finding)
    harness = stage.cause(anomaly, "proximate", "The arm harness of suit S1 is broken.")
    root = stage.cause(anomaly, "root", "The connector has no strain relief.", finding, above=proximate)
    stage.confirm(proximate, "Reproduced on the bench.", report)
    stage.confirm(root, "Without relief the pin moves with the harness; with a clamp it doesn't.", report)
    stage.rule_out(harness, "Resistance of the harness is within limits at every bend.", report)
    action = stage.act(
        "replacement",
        "Replace display D18 by D22",
        "D22 in S1 shows no drop-out in 400 bends.",
        root,
        days=60,
        watch_activities=3,
    )
    yield stage.when(-580)
    lead = stage.people["osk"]
    old, new, suit = (stage.items[serial] for serial in ("D18", "D22", "S1"))
    remove_hardware(item_id=old.pk, actor=lead, location="Return bag 4", reason="Drops out.")
    install_hardware(item_id=new.pk, parent_id=suit.pk, actor=lead, reason="Replaces D18.")
    action = stage.done(
        action,
        "D18 out, D22 in, clamp fitted by hand.",
        removed_item_id=old.pk,
        installed_item_id=new.pk,
        retest="passed",
        retest_note="400 bends in the suit bay, no drop-out.",
    )
    yield stage.when(-575)
    seen_by = stage.statement(anomaly, "corvo", "Retest of S1 with D22", "I. Corvo", "400 bends counted, none dark.")
    stage.verified(action, "Counted the bends and watched the display.", seen_by)
    yield stage.when(-570)
    stage.close(anomaly, "A fretted connector pin opened when the arm was bent. Display replaced, clamp fitted.")


def glove(stage: Stage) -> Story:
    """Sortie 2: a cut in a glove; sharp edges are covered. Found effective."""
    yield from play_activity(stage, "Sortie 2")
    yield stage.when(-540, 17)
    anomaly = stage.report(
        "farrant",
        "Cut in the outer layer of the right glove",
        stage.when(-540, 15.5),
        sortie="Sortie 2",
        serials=["G102"],
        place="Suit bay, after the sortie",
        description="A cut of 14 mm across the palm, through the outer layer only. Not felt during the sortie.",
        immediate_response="Gloves bagged; pressure layer held 30 kPa for an hour without loss.",
    )
    yield stage.when(-538)
    stage.screen(anomaly, 1, "D", "A cut through the pressure layer would be a loss of suit pressure.")
    yield stage.when(-530)
    survey = stage.document(
        anomaly,
        "thorne",
        "Survey of handrails on the route",
        "handrail-survey.txt",
        "34 fittings felt with a gauze glove. Fittings 12 and 19: burr of 0.3 mm at the clamp edge.",
    )
    finding = stage.find(anomaly, "Two handrail clamps on the route of Sortie 2 have burrs that cut gauze.", survey)
    cause = stage.cause(anomaly, "proximate", "The palm was drawn over the burr of clamp 12 or 19.", finding)
    root = stage.cause(anomaly, "root", "Clamps weren't deburred after they were shortened.", finding, above=cause)
    stage.confirm(cause, "Width and angle of the cut fit clamp 12.", survey)
    stage.confirm(root, "Only shortened clamps have burrs.", survey)
    covers = stage.act(
        "kit",
        "Cover the edges of shortened clamps",
        "All 6 covers are on, none can be pulled off by hand.",
        root,
        watch_activities=2,
    )
    inspect = stage.act(
        "inspection",
        "Feel all 34 fittings each year",
        "Survey sheet signed, no burr left uncovered.",
        root,
        days=90,
    )
    yield stage.when(-425)
    covers = stage.done(
        covers,
        "Six covers carried out on Sortie 3 and fitted.",
        kit_item="Clamp cover",
        kit_quantity=6,
        kit_stowage="Airlock locker 1",
        kit_delivery="Tender Halden 2",
    )
    inspect = stage.done(inspect, "All fittings felt during Sortie 3.")
    seen_by = stage.statement(anomaly, "corvo", "Pull test of the covers", "EV1", "All six pulled by hand; none moved.")
    stage.verified(covers, "Pictures of all six, and the word of EV1.", seen_by)
    stage.verified(inspect, "Survey sheet read: 34 of 34.", seen_by)
    yield stage.when(-420)
    stage.close(anomaly, "Burrs on two shortened clamps cut the glove. Covered, surveyed, and surveyed each year.")
    stage.anomalies["glove"] = anomaly


def pump(stage: Stage) -> Story:
    """The airlock pump trips; its restart becomes a quick-response card, then a better one."""
    yield stage.when(-520)
    card = write_procedure(stage, "Airlock pump has tripped", "card", PUMP, "What to do when the pump trips.")
    lead = stage.people["osk"]
    start = stage.when(-431, 8)
    drill = plan_activity(
        actor=lead,
        kind="test",
        title="Airlock drill 2",
        planned_start=stage.when(-515, 8),
        planned_end=stage.when(-515, 10),
        lead_id=lead.pk,
        tasks=["Trip the pump", "Restart it by the card"],
    )
    use(stage, card, drill)
    release(stage, card.revisions.get(), drill)
    yield stage.when(-505, 6)
    anomaly = stage.report(
        "osk",
        "Airlock pump tripped twice during repressurisation",
        stage.when(-505, 5.2),
        serials=["P04"],
        place="Airlock",
        description="Tripped at 41 kPa with code 7, restarted at once, tripped again with code 7.",
        immediate_response="Repressurised by the hatch valve, by hand. Crew inside in eleven minutes.",
    )
    yield stage.when(-504)
    stage.screen(anomaly, 2, "C", "A crew behind a closed hatch depends on the hand valve alone.")
    yield stage.when(-490)
    log = stage.document(
        anomaly,
        "thorne",
        "Motor log of the pump",
        "pump-motor-log.txt",
        "Code 7 is over-temperature of the winding. Second start 9 s after the first trip, winding at 118 "
        "C, limit 110 C.",
    )
    finding = stage.find(anomaly, "The second trip came because the pump was restarted hot.", log)
    cause = stage.cause(anomaly, "proximate", "The pump was restarted before its winding had cooled.", finding)
    root = stage.cause(anomaly, "root", "The card says nothing about waiting after code 7.", finding, above=cause)
    stage.confirm(cause, "Winding temperature at the second start.", log)
    stage.confirm(root, "The card was followed to the letter.", log)
    action = stage.act(
        "procedure",
        "Have the card wait ten minutes after code 7",
        "Two crews restart by the card without a trip.",
        root,
    )
    revision = redraft(stage, card, "Wait ten minutes after code 7.", action=action)
    step = revision.read_steps()[1]
    change_revision_step(
        revision_id=revision.pk,
        actor=stage.people["thorne"],
        version=revision.reread().version,
        key=step.key,
        changes={"text": "Code 7: wait ten minutes. Then press RESTART once."},
    )
    yield stage.when(-470)
    again = plan_activity(
        actor=lead,
        kind="test",
        title="Airlock drill 3",
        planned_start=start,
        planned_end=stage.when(-431, 10),
        lead_id=lead.pk,
        tasks=["Restart by the new card"],
    )
    use(stage, card, again)
    release(stage, revision, again)
    action = stage.done(action, "Revision 2 of the card is released.")
    yield stage.when(-465)
    tried = stage.statement(anomaly, "corvo", "Two crews tried the card", "I. Corvo", "Both waited, both restarted.")
    stage.verified(action, "Watched both crews.", tried)
    stage.close(anomaly, "The pump was restarted hot because the card didn't say to wait. It does now.")
    yield stage.when(-440)
    scrub_activity(activity_id=drill.pk, actor=lead, reason="Its purpose was met when both crews tried the card.")
    yield stage.when(-431, 8.2)
    start_activity(activity_id=again.pk, actor=lead)
    yield stage.when(-431, 9.7)
    complete_activity(activity_id=again.pk, actor=lead)


def tether_reel(stage: Stage) -> Story:
    """Sortie 3: a reel winds slowly; the cause isn't found, and the risk accepted."""
    yield from play_activity(stage, "Sortie 3")
    yield stage.when(-430, 16)
    anomaly = stage.report(
        "osk",
        "Tether reel wound in slowly",
        stage.when(-430, 11),
        sortie="Sortie 3",
        serials=["R9"],
        place="Radiator 1",
        description="Took 14 s for three metres, usually 5 s. Three times, then normal.",
    )
    yield stage.when(-428)
    stage.screen(anomaly, 3, "D", "A slack tether may catch; the second tether holds.")
    yield stage.when(-400)
    teardown = stage.document(
        anomaly,
        "thorne",
        "Tear-down of reel R9",
        "reel-R9.txt",
        "Spring, bearing and cable within limits. Cold soak at -40 C for six hours: 5 s. Nothing found.",
    )
    for text in ("The spring is weak.", "The bearing grease was too stiff when cold."):
        stage.rule_out(stage.cause(anomaly, "proximate", text), "Within limits at the tear-down.", teardown)
    yield stage.when(-390)
    accept_unexplained(
        anomaly_id=anomaly.pk,
        actor=stage.people["engineer"],
        version=anomaly.reread().version,
        proof=stage.sign("engineer"),
        rationale="Tear-down and cold soak show nothing. R9 is retired from use as first tether; a slow "
        "reel is seen "
        "at once and the second tether holds.",
    )
    stage.close(anomaly, "Not explained. Reel R9 is used as second tether only.")


def co2_sensor(stage: Stage) -> Story:
    """Sortie 3: a CO2 sensor drifts; an operating limit is set."""
    yield stage.when(-429, 9)
    anomaly = stage.report(
        "ketter",
        "CO2 sensor of suit S1 read 0.3 kPa low",
        stage.when(-430, 9),
        sortie="Sortie 3",
        serials=["C55"],
        place="Suit S1",
        description="Found at the comparison after the sortie against the cabin sensor.",
    )
    stage.screen(anomaly, 2, "D", "A low reading hides a scrubber that fails.")
    yield stage.when(-415)
    log = stage.document(anomaly, "thorne", "Calibration of C55", "calibration-C55.txt", "Drift 0.3 kPa in 210 days.")
    finding = stage.find(anomaly, "C55 drifted by 0.3 kPa in 210 days; its limit is 0.2 kPa in 180 days.", log)
    root = stage.cause(anomaly, "root", "The sensor was past its calibration date.", finding)
    stage.confirm(root, "Dates of the calibration card.", log)
    action = stage.act("limit", "No suit goes out with a CO2 sensor past 150 days", "The suit bay list shows it.", root)
    action = stage.done(action, "Limit entered in the suit bay list.")
    seen_by = stage.statement(anomaly, "corvo", "Suit bay list", "I. Corvo", "Both suits show days since calibration.")
    stage.verified(action, "Read the list on two days.", seen_by)
    stage.close(anomaly, "A CO2 sensor was used past its calibration date. A limit of 150 days is set.")


def small_ones(stage: Stage) -> Story:
    """A report that was none, a false alarm with its duplicate, and a battery."""
    yield from play_activity(stage, "Docking of the tender Halden")
    yield stage.when(-350, 14)
    glare = stage.report(
        "osk",
        "Glare in the docking camera",
        stage.when(-350, 9),
        sortie="Docking of the tender Halden",
        description="The sun stood behind the tender for a minute.",
    )
    yield stage.when(-349)
    why = "Foreseen in the plan: the ranging light was used, as planned."
    dismiss_anomaly(anomaly_id=glare.pk, actor=stage.people["engineer"], reason=why)
    yield from play_activity(stage, "Sortie 4")
    yield stage.when(-299, 9)
    battery = stage.report(
        "farrant",
        "Tool battery T201 swelled",
        stage.when(-300, 15),
        sortie="Sortie 4",
        serials=["T201"],
        place="Tool crib",
        description="Case 3 mm thicker than the gauge after charging.",
        immediate_response="Put into the fire box, outside of the crew cabin.",
    )
    stage.screen(battery, 2, "D", "A cell that vents in the cabin.", lead="anselm")
    yield stage.when(-280)
    log = stage.document(battery, "thorne", "Charge log of T201", "charge-T201.txt", "Charged at 2 C four times.")
    finding = stage.find(battery, "T201 was charged fast after each sortie of the last four.", log)
    root = stage.cause(battery, "root", "The charger offers the fast rate first.", finding)
    stage.confirm(root, "Log and charger panel.", log)
    action = stage.act(
        "limit", "Charge tool batteries at the slow rate only", "Fast rate is locked.", root, watch_activities=4
    )
    action = stage.done(action, "Fast rate locked at the charger.")
    seen_by = stage.statement(battery, "corvo", "Charger panel", "I. Corvo", "Fast rate greyed out on both chargers.")
    stage.verified(action, "Tried to choose the fast rate; it can't be chosen.", seen_by)
    stage.close(battery, "Fast charging swelled a cell. The fast rate is locked.")
    yield from play_activity(stage, "Sortie 5")
    yield stage.when(-190, 13)
    alarm = stage.report(
        "ketter",
        "Water alarm in suit S2 without water",
        stage.when(-190, 12.4),
        sortie="Sortie 5",
        serials=["S2"],
        description="Alarm for four seconds. Helmet dry, absorber dry after the sortie.",
    )
    again = stage.report("farrant", "False water alarm, EV2", stage.when(-190, 12.4), sortie="Sortie 5")
    yield stage.when(-189)
    engineer = stage.people["engineer"]
    link_anomalies(source_id=again.pk, target_id=alarm.pk, kind="duplicate", actor=engineer)
    dismiss_anomaly(anomaly_id=again.pk, actor=engineer, reason="The same alarm, reported twice.")
    stage.screen(alarm, 3, "C", "An alarm that isn't believed.")
    yield stage.when(-170)
    sweat = stage.statement(alarm, "thorne", "Sensor pad", "R. Thorne", "Salt on the pad; alarm when breathed on.")
    finding = stage.find(alarm, "Dried sweat on the sensor pad conducts when the air is humid.", sweat)
    root = stage.cause(alarm, "root", "The pad isn't wiped between sorties.", finding)
    stage.confirm(root, "Wiped, it stays quiet.", sweat)
    action = stage.act(
        "training", "Wipe the water sensor pad when the suit is serviced", "Six crew have done it once.", root
    )
    action = stage.done(action, "Shown to all six in the suit bay.")
    stage.verified(action, "Saw all six do it.", sweat)
    stage.close(alarm, "Dried sweat on a sensor pad. Wiped at every service.")


def judge_effective(stage: Stage) -> Story:
    """After two sorties without a cut the covers count as effective."""
    yield stage.when(-180)
    action = stage.anomalies["glove"].actions.order_by("pk").first()
    if action is not None:
        find_action_effective(
            action_id=action.pk, actor=stage.people["hollin"], note="Sorties with gloves of this type, and no cut."
        )
