"""Doors for workers: one service called. Each may run twice without harm."""

from __future__ import annotations

from celery import shared_task

from anomalies.services.notices import mail_notices, send_digests, tell_people
from anomalies.services.readiness_notes import watch_reviews

TELL_PEOPLE = "anomalies.tell_people"
SEND_DIGESTS = "anomalies.send_digests"


@shared_task(name=TELL_PEOPLE)
def tell() -> None:
    """Note what changed on the lists of reviews, then tell people of new entries of the ledger, here and by mail."""
    watch_reviews()
    tell_people()
    mail_notices()


@shared_task(name=SEND_DIGESTS)
def digest() -> None:
    """Send the digest of the day."""
    send_digests()
