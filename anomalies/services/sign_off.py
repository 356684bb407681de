"""Sign-offs: the password again, then a name under a record as it is.

A door asks `confirm_password` and hands the proof to the service that moves the record; that service calls `sign`
before it changes anything, so that what is signed is the version the ledger knows and the signer saw.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.models.base import Record
from anomalies.models.ledger import LedgerEntry
from anomalies.models.password_tries import PasswordTries
from anomalies.models.sign_off import SignOff
from anomalies.permissions import ROLES
from anomalies.services.ledger import check_version, create_record
from config.kit.errors import BadInput, NotAllowed, Refused

GOOD_FOR = timedelta(minutes=5)
MOST_TRIES = 5
TRIES_FOR = timedelta(minutes=15)
WRONG = "This isn't your password; nothing was done."
STALE = "Your password was asked for too long ago, or was somebody else's: give it again."
NOT_RECORDED = "This isn't what the ledger last recorded, so it can't be signed. Run verify_ledger."


@dataclass(frozen=True, slots=True)
class PasswordProof:
    """That this person gave their password at this moment. Only `confirm_password` makes one."""

    person_id: int
    at: datetime


def confirm_password(*, actor: User, password: str) -> PasswordProof:
    """Return the proof that the actor knows their password; raises BadInput on the field `password`.

    After MOST_TRIES wrong ones no password is looked at until TRIES_FOR has passed since the first of them. Call it
    outside the transaction that signs: a refusal there would forget the try.
    """
    _count_try(actor)
    if not actor.is_active or not actor.check_password(password):
        raise BadInput(WRONG, code="wrong_password", fields={"password": [WRONG]})
    PasswordTries.objects.filter(person=actor).update(count=0)
    return PasswordProof(actor.pk, now())


@transaction.atomic
def _count_try(actor: User) -> None:
    """Count before looking: guesses sent at once are all counted, and no lock is held while a password is hashed."""
    moment = now()
    PasswordTries.objects.get_or_create(person=actor, defaults={"since": moment})
    tries = PasswordTries.objects.select_for_update().get(person=actor)
    if tries.count == 0 or moment - tries.since > TRIES_FOR:
        tries.count, tries.since = 0, moment
    if tries.count >= MOST_TRIES:
        message = f"{MOST_TRIES} wrong passwords: none is looked at until {tries.since + TRIES_FOR:%H:%M} UTC."
        raise BadInput(message, code="too_many_tries", fields={"password": [message]})
    tries.count += 1
    tries.save(update_fields=["count", "since"])


def check_proof(actor: User, proof: PasswordProof) -> None:
    """Raise NotAllowed unless the actor gave their own password within the last minutes."""
    if proof.person_id != actor.pk or not now() - GOOD_FOR <= proof.at <= now():
        raise NotAllowed(STALE, code="password_again")


def sign(record: Record, *, actor: User, proof: PasswordProof, seen: int, meaning: str, permission: str) -> SignOff:
    """The actor's name stands under the locked record as it is now.

    seen        the version the actor read; raises EditConflict if the record changed since
    permission  code name of the permission by which the actor may sign: the roles that hold it are written down
    """
    check_proof(actor, proof)
    check_version(record, seen=seen, changes={})
    recorded = LedgerEntry.objects.of(record.KIND, record.pk).last()
    if recorded is None or (recorded.version, recorded.content_hash) != (record.version, record.content_hash()):
        raise Refused(NOT_RECORDED, code="not_as_recorded")
    sign_off = SignOff(
        signed_kind=record.KIND,
        signed_id=record.pk,
        signed_version=record.version,
        signed_hash=record.content_hash(),
        meaning=meaning,
        signer=actor,
        signer_name=actor.get_full_name() or actor.username,
        signer_role=find_role(actor, permission),
        signed_at=now(),
    )
    create_record(sign_off, actor=actor, action="sign_off.sign")
    return sign_off


def find_role(actor: User, permission: str) -> str:
    """Return the actor's roles that hold the permission, or that it was granted apart from any role."""
    held = set(actor.groups.values_list("name", flat=True))
    roles = [role for role, codes in ROLES.items() if role in held and permission in codes]
    return ", ".join(roles) or "permission of their own"
