"""Doors for workers: one service called. Each may run twice without harm."""

from __future__ import annotations

from celery import shared_task

from anomalies.services.notices import mail_notices, send_digests, tell_people

TELL_PEOPLE = "anomalies.tell_people"
SEND_DIGESTS = "anomalies.send_digests"


@shared_task(name=TELL_PEOPLE)
def tell() -> None:
    """Tell people of new entries of the ledger, in the service and by mail."""
    tell_people()
    mail_notices()


@shared_task(name=SEND_DIGESTS)
def digest() -> None:
    """Send the digest of the day."""
    send_digests()
