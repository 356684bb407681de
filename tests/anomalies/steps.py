"""Steps for tests, written short."""

from __future__ import annotations

from typing import Any

from anomalies.steps import Notice, Reading, Step, Steps


def step(key: str, text: str = "", parent: str = "", **more: Any) -> Step:
    """A step to do that says its own key, if nothing else is said."""
    return Step(key, parent, **{"kind": "do", "text": text or f"Do {key}."} | more)


SUIT_UP: Steps = (
    step("prepare", "Prepare the umbilical.", kind="group"),
    step("inspect", "Inspect the seal of the quick disconnect.", "prepare"),
    step(
        "pressure",
        "Read the coolant pressure.",
        "prepare",
        kind="check",
        reading=Reading(unit="kPa", low="55.0", high="70.0"),
        notices=(Notice("burst", "warning", "Above 90 kPa the hose bursts."),),
    ),
    step("mate", "Mate the umbilical.", kind="group"),
    step("push", "Push until the collar clicks.", "mate"),
    step("pull", "Pull by hand to check the latch.", "mate"),
    step("report", "Report “umbilical mated”.", kind="call"),
)
"""
1 prepare, 1.1 inspect, 1.2 pressure (with a warning), 2 mate, 2.1 push, 2.2 pull, 3 report
"""


def outline(steps: Steps) -> str:
    """Keys with those of their children in brackets, as in: a(b c) d."""
    children: dict[str, list[str]] = {}
    for item in steps:
        children.setdefault(item.parent, []).append(item.key)

    def write(parent: str) -> str:
        keys = children.get(parent, [])
        return " ".join(f"{key}({write(key)})" if key in children else key for key in keys)

    return write("")
