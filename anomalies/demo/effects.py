"""The demonstration's benefit: what each action about the weeping quick disconnect does to its tree (invented)."""

from __future__ import annotations

from typing import Any

from anomalies.demo.stage import Stage
from anomalies.models import CorrectiveAction
from anomalies.services.effects import estimate_action, state_effect, tie_actions

SAID: dict[str, tuple[dict[str, float], tuple[dict[str, Any], ...]]] = {
    "replacement": (
        {"cost": 3.0, "mass_kg": 0.0, "crew_hours": 1.5, "lead_days": 4.0},
        (
            {
                "kind": "multiplied",
                "event": "seal-past-life",
                "amount": 0.1,
                "reason": "Q36 has a tenth of the cycles that Q31 had.",
            },
            {
                "kind": "multiplied",
                "event": "seal-cold-set",
                "amount": 0.5,
                "reason": "The new batch kept half the set in the cold soak of twelve seals.",
            },
        ),
    ),
    "procedure": (
        {"cost": 1.0, "mass_kg": 0.0, "crew_hours": 4.0, "lead_days": 10.0},
        (
            {
                "kind": "multiplied",
                "event": "no-look-at-collar",
                "amount": 0.1,
                "reason": "A check read aloud is left out one time in ten as often; agreed by two crew trainers.",
            },
        ),
    ),
    "kit": (
        {"cost": 0.5, "mass_kg": 0.4, "crew_hours": 0.5, "lead_days": 30.0},
        (
            {
                "kind": "detection",
                "event": "seal-debris",
                "amount": 0.6,
                "reason": "Debris seen before mating is picked out; six of ten planted grains were seen.",
            },
        ),
    ),
    "design": (
        {"cost": 40.0, "mass_kg": 0.05, "crew_hours": 0.0, "lead_days": 240.0},
        (
            {
                "kind": "barrier",
                "event": "ring-turned-early",
                "amount": 0.005,
                "new_event": "PIN-FAILS",
                "reason": "The pin held in all of 150 tries with a short collar; half a failure is assumed.",
            },
        ),
    ),
}


def say_effects(stage: Stage, actions: list[CorrectiveAction]) -> None:
    """Say what each action takes and does; the kit makes sense only with the new seals."""
    engineer = stage.people["engineer"]
    found: dict[str, CorrectiveAction] = {}
    for action in actions:
        takes, effects = SAID[action.kind]
        estimate_action(action_id=action.pk, actor=engineer, version=action.reread().version, changes=takes)
        for effect in effects:
            state_effect(action_id=action.pk, actor=engineer, **effect)
        found[action.kind] = action
    tie_actions(
        action_id=found["kit"].pk,
        other_id=found["replacement"].pk,
        kind="needs",
        actor=engineer,
        note="The spare seals are those of the new batch.",
    )
