"""The demonstration's failure modes, what was counted of them, and a value that experience proposes."""

from __future__ import annotations

from anomalies.demo.stage import Stage, Story
from anomalies.models import Anomaly, HardwareType
from anomalies.services.exposure import enter_exposure
from anomalies.services.learning import add_failure_mode, name_failure_mode, propose_update
from faulttree.facade import list_shared

MODES = (
    ("QDC-WEEP", "QDC-7", "Seal of the quick disconnect weeps", "hours", "rate-coupling"),
    ("GLV-CUT", "GLV-5", "Outer layer of a glove is cut or worn through", "outings", ""),
    ("DSP-OUT", "DSP-4", "Suit display drops out", "outings", ""),
)
NAMED = (
    ("QDC-WEEP", "Coolant wept"),
    ("GLV-CUT", "Cut in the outer layer"),
    ("DSP-OUT", "Suit display of EV1 dropped out"),
    ("DSP-OUT", "Suit display dropped out again"),
)
ENTERED = (
    ("QDC-WEEP", 640.0, -720, -3, "Mating log of the airlock panel, four disconnects over two years (invented)."),
    ("GLV-CUT", 34.0, -1100, -560, "Glove log from before activities were kept here (invented)."),
    ("DSP-OUT", 26.0, -1100, -660, "Suit log from before activities were kept here (invented)."),
)
"""Failure mode, amount, first and last day counted from today, source."""


def learn(stage: Stage) -> Story:
    """Name failure modes, enter what activities can't know, propose a rate."""
    yield stage.when(-2)
    engineer = stage.people["engineer"]
    items = {row.name: row.pk for row in list_shared()}
    modes = {}
    for code, part_number, name, measure, item in MODES:
        kind = HardwareType.objects.get(part_number=part_number)
        modes[code] = add_failure_mode(
            actor=engineer, hardware_type_id=kind.pk, code=code, name=name, measure=measure, item_id=items.get(item)
        )
    for code, begins in NAMED:
        anomaly = Anomaly.objects.exclude(number=None).filter(title__startswith=begins).first()
        if anomaly is not None:
            name_failure_mode(anomaly_id=anomaly.pk, actor=engineer, failure_mode_id=modes[code].pk)
    for code, amount, first, last, source in ENTERED:
        enter_exposure(
            actor=stage.people["osk"],
            hardware_type_id=modes[code].hardware_type_id,
            measure=modes[code].measure,
            amount=amount,
            start=stage.when(first),
            end=stage.when(last),
            source=source,
        )
    weep = modes["QDC-WEEP"]
    if weep.item_id is not None:
        propose_update(failure_mode_id=weep.pk, actor=engineer, note="First update since the log was kept.")
