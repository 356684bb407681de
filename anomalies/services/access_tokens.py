"""Writes of access tokens: one is made with the password, shown once, used, and revoked."""

from __future__ import annotations

from datetime import timedelta
from secrets import token_urlsafe

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.models.access_token import PREFIX, AccessToken, TokenUse, hash_secret
from anomalies.services.checks import begin_move, clean_values, need_text
from anomalies.services.ledger import change_record, create_record
from anomalies.services.sign_off import PasswordProof, check_proof
from anomalies.states import TOKEN
from config.kit.errors import BadInput, Refused
from config.kit.permissions import require

MOST_TOKENS = 20
LONGEST_DAYS = 366
NOTED_EVERY = timedelta(minutes=1)
NO_NAME = "Say what the token is for."
BAD_DAYS = f"A token is good for 1 to {LONGEST_DAYS} days."
TOO_MANY = f"You have {MOST_TOKENS} tokens that can be used: revoke one first."


@transaction.atomic
def make_token(*, actor: User, name: str, days: int, proof: PasswordProof) -> tuple[AccessToken, str]:
    """The actor has one more token; returns it with its secret, which can't be read again."""
    require(actor, "access_token.make")
    check_proof(actor, proof)
    if not 1 <= days <= LONGEST_DAYS:
        raise BadInput(BAD_DAYS, fields={"days": [BAD_DAYS]})
    User.objects.select_for_update().get(pk=actor.pk)  # two at once must not both be the last that is allowed
    at = now()
    if AccessToken.objects.visible_to(actor).usable(at).count() >= MOST_TOKENS:
        raise Refused(TOO_MANY, code="too_many")
    secret = PREFIX + token_urlsafe(32)
    token = AccessToken(owner=actor, digest=hash_secret(secret), made_at=at, expires_at=at + timedelta(days=days))
    token.name = clean_values(token, {"name": need_text("name", name, NO_NAME)}, ("name",))["name"]
    create_record(token, actor=actor, action="access_token.make")
    return token, secret


@transaction.atomic
def revoke_token(*, token_id: int, actor: User) -> AccessToken:
    """The token opens nothing any more."""
    token = AccessToken.objects.lock(token_id)
    move = begin_move(token, TOKEN, "revoke", actor)
    change_record(token, {"state": move.target, "revoked_at": now()}, actor=actor, action="access_token.revoke")
    return token


def use_token(secret: str) -> AccessToken | None:
    """Return the usable token of this secret, noting that it was used; None if there's none."""
    at = now()
    tokens = AccessToken.objects.usable(at).select_related("owner", "last_use")
    token = tokens.filter(digest=hash_secret(secret)).first()
    if token is not None:
        _note_use(token)
    return token


def _note_use(token: AccessToken) -> None:
    """Write it down once a minute at most: reading through the API shouldn't write each time."""
    at, last = now(), getattr(token, "last_use", None)
    if last is None or at - last.at >= NOTED_EVERY:
        TokenUse.objects.update_or_create(token=token, defaults={"at": at})
