"""Writes of calendar keys: one is made with the password, its address shown once, used, and revoked."""

from __future__ import annotations

from datetime import timedelta
from secrets import token_urlsafe

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.models import CalendarKey, CalendarUse
from anomalies.models.access_token import hash_secret
from anomalies.services.checks import begin_move, clean_values, need_text
from anomalies.services.ledger import change_record, create_record
from anomalies.services.sign_off import PasswordProof, check_proof
from anomalies.states import TOKEN
from config.kit.errors import Refused
from config.kit.permissions import require

MOST_KEYS = 10
NOTED_EVERY = timedelta(minutes=1)
NO_NAME = "Say where the calendar is read."
TOO_MANY = f"You have {MOST_KEYS} addresses that can be used: revoke one first."


@transaction.atomic
def make_key(*, actor: User, name: str, reach: str, proof: PasswordProof) -> tuple[CalendarKey, str]:
    """The actor's calendar has one more address; returns its key with the secret, which can't be read again."""
    require(actor, "calendar_key.make")
    check_proof(actor, proof)
    User.objects.select_for_update().get(pk=actor.pk)  # two at once must not both be the last that is allowed
    if CalendarKey.objects.visible_to(actor).usable().count() >= MOST_KEYS:
        raise Refused(TOO_MANY, code="too_many")
    secret = token_urlsafe(32)
    given = {"name": need_text("name", name, NO_NAME), "reach": reach}
    values = clean_values(CalendarKey(), given, ("name", "reach"))
    key = CalendarKey(owner=actor, digest=hash_secret(secret), made_at=now(), **values)
    create_record(key, actor=actor, action="calendar_key.make")
    return key, secret


@transaction.atomic
def revoke_key(*, key_id: int, actor: User) -> CalendarKey:
    """Its address opens nothing any more."""
    key = CalendarKey.objects.lock(key_id)
    move = begin_move(key, TOKEN, "revoke", actor)
    change_record(key, {"state": move.target, "revoked_at": now()}, actor=actor, action="calendar_key.revoke")
    return key


def use_key(secret: str) -> CalendarKey | None:
    """Return the usable key of this secret, noting that it was used; None if there's none."""
    keys = CalendarKey.objects.usable().select_related("owner", "last_use")
    key = keys.filter(digest=hash_secret(secret)).first()
    if key is not None:
        _note_use(key)
    return key


def _note_use(key: CalendarKey) -> None:
    """Write it down once a minute at most: reading shouldn't write each time."""
    at, last = now(), getattr(key, "last_use", None)
    if last is None or at - last.at >= NOTED_EVERY:
        CalendarUse.objects.update_or_create(key=key, defaults={"at": at})
