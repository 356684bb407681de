"""Writes of an anomaly's board: who sits on it."""

from __future__ import annotations

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.models import Anomaly, BoardSeat
from anomalies.services.checks import begin_move, need_text
from anomalies.services.editing import attach
from anomalies.services.ledger import change_record
from anomalies.states import ANOMALY
from config.kit.errors import BadInput, Refused
from config.kit.permissions import allows

CANT_SIT = "This person can't sit on a board: they need the role of a board member or a safety engineer."
WHY = "Say why."


@transaction.atomic
def seat_member(*, anomaly_id: int, actor: User, person_id: int) -> BoardSeat:
    """The person sits on the board of the anomaly."""
    anomaly = Anomaly.objects.lock(anomaly_id)
    begin_move(anomaly, ANOMALY, "seat", actor)
    person = User.objects.filter(pk=person_id).first()
    if person is None or not allows(person, "anomaly.sit", anomaly):
        raise BadInput(CANT_SIT, code="cannot_sit", fields={"person_id": [CANT_SIT]})
    return attach(BoardSeat, actor=actor, action="board.seat", anomaly_id=anomaly.pk, person_id=person.pk)


@transaction.atomic
def unseat_member(*, anomaly_id: int, actor: User, person_id: int, reason: str) -> BoardSeat:
    """The person doesn't sit on the board any more; where they stood on findings stays on record."""
    anomaly = Anomaly.objects.lock(anomaly_id)
    begin_move(anomaly, ANOMALY, "seat", actor)
    reason = need_text("reason", reason, WHY)
    seat = anomaly.board.filter(person_id=person_id, active=True).first()
    if seat is None:
        raise Refused("This person doesn't sit on the board.", code="not_seated")
    change_record(seat, {"active": False}, actor=actor, action="board.unseat", reason=reason)
    return seat
