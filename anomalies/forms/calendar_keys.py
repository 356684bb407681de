"""Addresses of a person's calendar: made with the password, revoked when nobody should read it there any more."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from anomalies.models import CalendarKey
from anomalies.services.calendar_keys import make_key, revoke_key
from anomalies.web.fields import line
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form


class MakeKeyForm(MoveForm[CalendarKey]):
    """Makes an address; what it returns holds the secret, for the page that shows it once."""

    signed = True

    name = line("Where it's read", most=80, help_text="Like “calendar on my phone”.")
    reach = forms.ChoiceField(
        label="What it holds",
        choices=CalendarKey.Reach.choices,
        initial=CalendarKey.Reach.MINE,
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"].label = "Your password"
        self.fields["password"].help_text = "So that nobody makes one on a computer you left open."

    def act(self) -> tuple[CalendarKey, str]:
        """Make it."""
        return make_key(actor=self.actor, proof=self.proof, **self.values())


@move_form("calendar_key", "revoke", label="Revoke", button="Revoke it")
class RevokeKeyForm(MoveForm[CalendarKey]):
    """Revokes an address."""

    intro: ClassVar[str] = "Programs that read it are shut out at once; what they have read may stay with them."
    done = "The address is revoked."

    def act(self) -> CalendarKey:
        """Revoke."""
        return revoke_key(key_id=self.record.pk, actor=self.actor)
