"""Lessons, and what they should be offered for: our own, invented, judged by hand before anything was measured.

Each target names the lessons that somebody who knows the work would want to be shown. Targets of even place are for
choosing the threshold, the others for testing it.
"""

from __future__ import annotations

LESSONS = {
    1: (
        "Push the collar home before turning the lock ring. Coolant wept from the quick disconnect after the "
        "umbilical was mated. The collar had been turned before it clicked and scored the seal. Check by eye and "
        "by a pull that the collar is home, then turn the ring."
    ),
    2: (
        "Deburr every handrail clamp that is shortened. A glove was cut across the palm by a burr at a clamp "
        "edge. Clamps weren't deburred after they were shortened. Feel each fitting with gauze and cover sharp "
        "edges before a route is used."
    ),
    3: (
        "Wait ten minutes before an airlock pump is restarted. The airlock pump tripped on thermal overload and "
        "tripped again when restarted hot. The card didn't say to let the motor cool. Write cooling times into "
        "the card."
    ),
    4: (
        "Strain relief on every suit connector. The suit display went dark when the arm was bent. A pin of the "
        "connector fretted as the harness had no strain relief. Fit a clamp and bend-test the arm."
    ),
    5: (
        "Check the calibration date of CO2 sensors before suits go out. A CO2 sensor read low through the sortie; "
        "it was past its calibration date. Keep a limit of days and look at the date in the suit bay."
    ),
    6: (
        "Charge tool batteries at the slow rate only. A battery cell swelled in the charger after fast charging. "
        "The fast rate overheats cells. Lock the charger to slow."
    ),
    7: (
        "Wipe sensor pads at each service. The heart rate alarm came falsely; dried sweat on the sensor pad. Wipe "
        "biomedical sensors with alcohol at every suit service."
    ),
    8: (
        "Warm the tether reel before it's used in shadow. The tether reel jammed in eclipse; grease stiffened in "
        "the cold and the spring couldn't rewind. Keep reels in sunlight or use low-temperature grease."
    ),
    9: (
        "Dry the visor and use less soap on it. Eyes were irritated by fluid under the helmet: anti-fog soap came "
        "loose from the visor with sweat. Wipe the visor dry after anti-fog is applied."
    ),
    10: (
        "Purge the transfer line before chill-down. Pressure in the propellant transfer line surged as trapped "
        "gas condensed. The line wasn't purged. Purge twice and chill down slowly."
    ),
    11: (
        "Read valve positions back aloud. A valve at the panel was left open, as two people each thought the "
        "other had closed it. Read each valve position back by voice to the console."
    ),
    12: (
        "Water in the helmet comes back: stop at the first sign. Water gathered behind the neck ring from a "
        "clogged separator of the cooling loop. Go back inside at the first report of water; change the filter of "
        "the separator."
    ),
    13: (
        "Tell the crew about thruster inhibits before they go near the port. A thruster self-test began while a "
        "suit was in its plume zone. Inhibit thrusters by two separate switches before the hatch opens."
    ),
    14: (
        "Pack bolts captive. A bolt floated away from a tool bag when the bag was opened; it wasn't tethered. Use "
        "captive bolts or a magnetic tray in the bag."
    ),
}

TARGETS: tuple[tuple[str, frozenset[int]], ...] = (
    (
        "Coolant seeped at the umbilical's quick disconnect; the lock ring felt stiff when turned",
        frozenset({1}),
    ),
    (
        "Second glove with a cut, this time on the thumb, after moving along the handrail",
        frozenset({2}),
    ),
    (
        "Pump in the airlock tripped with code 7 during depressurisation",
        frozenset({3}),
    ),
    (
        "Display of EV2 dark for two minutes while reaching overhead; connector suspected",
        frozenset({4}),
    ),
    (
        "CO2 reading frozen at 0.2 kPa; sensor calibration lapsed last month",
        frozenset({5}),
    ),
    (
        "Battery of the pistol tool too hot to hold after charging",
        frozenset({6}),
    ),
    (
        "Heart rate trace lost, false alarm at the console",
        frozenset({7}),
    ),
    (
        "Tether reel would not rewind at the shadowed end of the truss",
        frozenset({8}),
    ),
    (
        "Stinging in the left eye forty minutes after egress; fog-free coating looked wet on the visor",
        frozenset({9}),
    ),
    (
        "Pressure surge in propellant transfer line at the beginning of chill-down",
        frozenset({10}),
    ),
    (
        "Valve V7 found open after the crew had called it closed",
        frozenset({11}),
    ),
    (
        "Water blob seen behind the helmet pad near the neck ring",
        frozenset({12}),
    ),
    (
        "Thruster fired within the keep-out time while a suit was at the port",
        frozenset({13}),
    ),
    (
        "Bolt lost overboard from the tool bag",
        frozenset({14}),
    ),
    (
        "Light in the airlock flickers when the fan is switched on",
        frozenset(),
    ),
    (
        "Radio drop-outs between the suits behind radiator 2",
        frozenset(),
    ),
    (
        "Mate the umbilical at the vehicle side. Verify that valve V3 is closed at the panel. Push the collar of "
        "the quick disconnect home until it clicks. Turn the lock ring a quarter turn. Open valve V3.",
        frozenset({1, 11}),
    ),
    (
        "Move along the handrails to port 2, hand over hand. Inspect each clamp on the way.",
        frozenset({2}),
    ),
    (
        "Airlock pump has tripped. Note the cause code on the pump panel. Press RESTART once.",
        frozenset({3}),
    ),
    (
        "Suit checkout: bend both arms ten times and watch the display; check the CO2 sensor; inspect gloves for cuts.",
        frozenset({2, 4, 5}),
    ),
    (
        "Propellant transfer: connect, purge the line, chill down, open the transfer valve, read back positions.",
        frozenset({10, 11}),
    ),
    (
        "Charge tool batteries. Set the charger. Store batteries in the crib.",
        frozenset({6}),
    ),
    (
        "Donning: apply anti-fog to the visor, wipe, close the helmet, check the neck ring for water.",
        frozenset({9, 12}),
    ),
    (
        "Replace the coolant line of radiator 2. Unscrew four bolts, keep them in the bag, fit the line.",
        frozenset({14}),
    ),
    (
        "Reflector mount cracked at its foot; found at the survey of photographs",
        frozenset(),
    ),
    (
        "Sortie: work at the thruster port, retrieve the sample box with the tether reel",
        frozenset({8, 13}),
    ),
    (
        "Stowage: a food locker door doesn't latch",
        frozenset(),
    ),
    (
        "Cooling loop pressure fell by 3 kPa over an hour, no leak seen at the couplings",
        frozenset({1}),
    ),
    (
        "Water droplets on the inside of the visor, cooling garment separator noisy",
        frozenset({12}),
    ),
    (
        "Seal of the sample airlock scored when its ring was turned early",
        frozenset({1}),
    ),
    (
        "Cell swelling in the spare battery found at inspection",
        frozenset({6}),
    ),
    (
        "The tethered wrench drifted against the solar cell guard",
        frozenset(),
    ),
)
