"""Access tokens: made with the password, revoked when they aren't needed any more."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from anomalies.models import AccessToken
from anomalies.services.access_tokens import LONGEST_DAYS, make_token, revoke_token
from anomalies.web.fields import line
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form


class MakeTokenForm(MoveForm[AccessToken]):
    """Makes a token; what it returns holds the secret, for the page that shows it once."""

    signed = True

    name = line("What it's for", most=80, help_text="Like “telemetry import”.")
    days = forms.IntegerField(
        label="Good for how many days", min_value=1, max_value=LONGEST_DAYS, initial=90, help_text="At most a year."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"].label = "Your password"
        self.fields["password"].help_text = "So that nobody makes one on a computer you left open."

    def act(self) -> tuple[AccessToken, str]:
        """Make it."""
        return make_token(actor=self.actor, proof=self.proof, **self.values())


@move_form("access_token", "revoke", label="Revoke", button="Revoke it")
class RevokeTokenForm(MoveForm[AccessToken]):
    """Revokes a token."""

    intro: ClassVar[str] = "Programs that use it are shut out at once. This can't be taken back."
    done = "The token is revoked."

    def act(self) -> AccessToken:
        """Revoke."""
        return revoke_token(token_id=self.record.pk, actor=self.actor)
