"""Writes of shared briefs: one is made with the password, its address shown once, opened by others, and revoked."""

from __future__ import annotations

from datetime import timedelta
from secrets import token_urlsafe

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.models import Activity, BriefShare, BriefShareUse
from anomalies.models.access_token import hash_secret
from anomalies.reads.brief.build import read_brief
from anomalies.services.checks import begin_move, clean_values, lock_named, need_text
from anomalies.services.ledger import change_record, create_record
from anomalies.services.sign_off import PasswordProof, check_proof
from anomalies.states import TOKEN
from config.kit.canonical import write_canonical
from config.kit.errors import BadInput, Refused
from config.kit.permissions import require

MOST_SHARES = 20
LONGEST_DAYS = 60
NOTED_EVERY = timedelta(minutes=1)
NO_AUDIENCE = "Say whom it's for."
BAD_DAYS = f"A shared brief opens for 1 to {LONGEST_DAYS} days."
TOO_MANY = f"{MOST_SHARES} copies of this brief can be opened already: revoke one first."


@transaction.atomic
def share_brief(
    *, activity_id: int, actor: User, audience: str, days: int, proof: PasswordProof
) -> tuple[BriefShare, str]:
    """The brief as it is now can be read by whoever has the secret; returns both. The secret can't be read again."""
    require(actor, "brief_share.make")
    require(actor, "readiness_review.view")
    check_proof(actor, proof)
    if not 1 <= days <= LONGEST_DAYS:
        raise BadInput(BAD_DAYS, fields={"days": [BAD_DAYS]})
    activity = lock_named("activity_id", Activity.objects.all(), activity_id)  # two at once must not both be the last
    if activity.brief_shares.usable(now()).count() >= MOST_SHARES:
        raise Refused(TOO_MANY, code="too_many")
    brief, secret = read_brief(activity), token_urlsafe(32)
    share = BriefShare(
        activity=activity,
        digest=hash_secret(secret),
        document=write_canonical(brief.as_json()),
        made_by=actor,
        made_at=brief.at,
        expires_at=brief.at + timedelta(days=days),
    )
    given = {"audience": need_text("audience", audience, NO_AUDIENCE)}
    share.audience = clean_values(share, given, ("audience",))["audience"]
    create_record(share, actor=actor, action="brief_share.make")
    return share, secret


@transaction.atomic
def revoke_share(*, share_id: int, actor: User) -> BriefShare:
    """Its address opens nothing any more."""
    share = BriefShare.objects.lock(share_id)
    move = begin_move(share, TOKEN, "revoke", actor)
    change_record(share, {"state": move.target, "revoked_at": now()}, actor=actor, action="brief_share.revoke")
    return share


def open_share(secret: str) -> BriefShare | None:
    """Return the shared brief of this secret, noting that it was opened; None if it opens nothing (any more)."""
    shares = BriefShare.objects.usable(now()).select_related("made_by", "last_use")
    share = shares.filter(digest=hash_secret(secret)).first()
    if share is not None:
        _note_use(share)
    return share


def _note_use(share: BriefShare) -> None:
    """Write it down once a minute at most: reading shouldn't write each time."""
    at, last = now(), getattr(share, "last_use", None)
    if last is None or at - last.at >= NOTED_EVERY:
        BriefShareUse.objects.update_or_create(share=share, defaults={"at": at})
