"""Shared briefs: made with the password, revoked when they needn't open any more."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from anomalies.models import BriefShare
from anomalies.services.brief_shares import LONGEST_DAYS, revoke_share, share_brief
from anomalies.web.fields import line
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form


class ShareBriefForm(MoveForm[BriefShare]):
    """Shares a brief; what it returns holds the secret, for the page that shows the address once."""

    signed = True

    audience = line("Whom it's for", most=120, help_text="Like “partners' safety panel”. It stands on the copy.")
    days = forms.IntegerField(
        label="Opens for how many days",
        min_value=1,
        max_value=LONGEST_DAYS,
        initial=14,
        help_text=f"At most {LONGEST_DAYS}.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"].label = "Your password"
        self.fields["password"].help_text = "So that nobody shares it from a computer you left open."

    def act(self) -> tuple[BriefShare, str]:
        """Share it."""
        return share_brief(activity_id=self.record.activity_id, actor=self.actor, proof=self.proof, **self.values())


@move_form("brief_share", "revoke", label="Revoke", button="Revoke it")
class RevokeShareForm(MoveForm[BriefShare]):
    """Revokes a shared brief."""

    intro: ClassVar[str] = (
        "Its address opens nothing from then on; what somebody saved stays with them. This can't be undone."
    )
    done = "The shared brief is revoked."

    def act(self) -> BriefShare:
        """Revoke."""
        return revoke_share(share_id=self.record.pk, actor=self.actor)
