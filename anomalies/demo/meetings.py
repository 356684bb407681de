"""Two meetings of the board on umbilical B07: one held, while its actions were committed, and one planned."""

from __future__ import annotations

from anomalies.demo.stage import Stage, Story
from anomalies.services.meetings import end_meeting, open_meeting, plan_meeting, record_decision, withdraw_decision


def meet(stage: Stage) -> Story:
    """Plan the first meeting, hold it, then plan the next one."""
    yield stage.when(-16)
    engineer, hollin = stage.people["engineer"], stage.people["hollin"]
    board = [stage.people[name].pk for name in ("engineer", "hollin", "anselm", "thorne", "osk")]
    held = plan_meeting(
        actor=hollin,
        title="Board on umbilical B07, first meeting",
        planned_for=stage.when(-14, 8.5),
        chair_id=engineer.pk,
        person_ids=board,
    )
    yield stage.when(-14, 8.6)
    open_meeting(meeting_id=held.pk, actor=engineer)
    yield stage.when(-14, 9.4)
    about = stage.anomalies["umbilical"].pk
    record_decision(
        meeting_id=held.pk,
        actor=hollin,
        anomaly_id=about,
        text="Umbilical B07 stays on the bench until both spare seals are delivered.",
    )
    wrong = record_decision(meeting_id=held.pk, actor=hollin, anomaly_id=about, text="Sortie 7 is moved by two weeks.")
    record_decision(
        meeting_id=held.pk, actor=hollin, text="Until Sortie 7 the board meets once a week, on the same day."
    )
    yield stage.when(-14, 10.2)
    there = [stage.people[name].pk for name in ("engineer", "hollin", "anselm", "thorne", "ketter")]
    end_meeting(meeting_id=held.pk, actor=engineer, person_ids=there)
    yield stage.when(-13)
    reason = "The activity lead decides that, not the board; she keeps the day for now."
    withdraw_decision(decision_id=wrong.pk, actor=engineer, reason=reason)
    yield stage.when(-2, 14)
    plan_meeting(
        actor=engineer,
        title="Board on umbilical B07, before Sortie 7",
        planned_for=stage.when(2, 13),
        chair_id=engineer.pk,
        person_ids=board,
    )
