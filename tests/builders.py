"""Models for tests, as exchange XML."""

from __future__ import annotations

import random


def wide_tree(width: int) -> str:
    """Return a tree that needs many nodes under every order of its events: an OR of ANDs of four random events."""
    dice = random.Random(3)
    chosen = [dice.sample(range(width), 4) for _ in range(width)]
    events = sorted({event for four in chosen for event in four})
    gates = "".join(f'<gate name="g{i}"/>' for i in range(width))
    return "\n".join(
        [
            '<opsa-mef><define-fault-tree name="wide">',
            f'<define-gate name="top"><or>{gates}</or></define-gate>',
            *(
                f'<define-gate name="g{i}"><and>'
                + "".join(f'<basic-event name="e{event}"/>' for event in four)
                + "</and></define-gate>"
                for i, four in enumerate(chosen)
            ),
            *(f'<define-basic-event name="e{event}"><float value="0.1"/></define-basic-event>' for event in events),
            "</define-fault-tree></opsa-mef>",
        ]
    )
