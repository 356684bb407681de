"""Writes of notices: derived from the ledger, looked at, mailed. Each may run twice without harm."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, timedelta
from itertools import groupby

import structlog
from django.conf import settings
from django.contrib.auth.models import User
from django.core.mail import send_mail
from django.db import transaction
from django.db.models import Q
from django.template.loader import render_to_string
from django.urls import reverse

from anomalies.clock import now
from anomalies.models import LedgerEntry, MailChoice, NoticeMark, PersonalNotice
from anomalies.notice_rules import find_telling
from anomalies.reads.now import read_blocks
from config.kit.errors import BadInput

AT_A_TIME = 500
TOLD_FOR = timedelta(days=30)
"""Older entries are passed over: a ledger that is there already floods nobody."""
MAILED_FOR = timedelta(days=1)
LONGEST = 400

log = structlog.get_logger(__name__)


@transaction.atomic
def tell_people() -> int:
    """People were told of the next entries of the ledger; returns how many notices were made.

    The mark is locked, so that two who do it at once don't do it twice.
    """
    mark, _ = NoticeMark.objects.select_for_update().get_or_create(pk=1)
    entries = list(LedgerEntry.objects.filter(sequence__gt=mark.sequence).order_by("sequence")[:AT_A_TIME])
    notices = [notice for entry in entries if entry.at >= now() - TOLD_FOR for notice in _make(entry)]
    PersonalNotice.objects.bulk_create(notices, ignore_conflicts=True)
    if entries:
        mark.sequence = entries[-1].sequence
        mark.save(update_fields=["sequence"])
    return len(notices)


def _make(entry: LedgerEntry) -> Iterable[PersonalNotice]:
    telling = find_telling(entry)
    if telling is None:
        return
    text = telling.text if len(telling.text) <= LONGEST else f"{telling.text[: LONGEST - 1]}…"
    for person in {each.pk: each for each in telling.people}.values():
        yield PersonalNotice(
            person=person,
            sequence=entry.sequence,
            text=text,
            kind=telling.record.KIND,
            record_id=telling.record.pk,
            at=entry.at,
        )


def mark_seen(*, actor: User, up_to: int) -> int:
    """The actor has seen their notices up to this entry of the ledger; returns how many were new."""
    return PersonalNotice.objects.visible_to(actor).unseen().filter(sequence__lte=up_to).update(seen_at=now())


def choose_mail(*, actor: User, choice: str) -> MailChoice:
    """The actor has this by e-mail from now on."""
    if choice not in MailChoice.Choice.values:
        raise BadInput("Choose one of the three.", fields={"choice": ["Choose one."]})
    row, _ = MailChoice.objects.update_or_create(person=actor, defaults={"choice": choice})
    return row


def mail_notices() -> int:
    """Those who want it have a mail with their newest notices; returns how many mails went out.

    Notices are claimed first and given back if the mail doesn't go, so that nobody has one twice.
    """
    at_once = Q(person__mail_choice=None) | Q(person__mail_choice__choice=MailChoice.Choice.AT_ONCE)
    waiting = PersonalNotice.objects.filter(
        at_once, mailed_at=None, seen_at=None, at__gte=now() - MAILED_FOR, person__is_active=True
    ).exclude(person__email="")
    rows = list(waiting.select_related("person").order_by("person_id", "sequence"))
    return sum(_mail_one(person, list(mine)) for person, mine in groupby(rows, key=lambda row: row.person))


def _mail_one(person: User, notices: list[PersonalNotice]) -> bool:
    keys = [notice.pk for notice in notices]
    claimed = PersonalNotice.objects.filter(pk__in=keys, mailed_at=None).update(mailed_at=now())
    if claimed != len(keys):
        return False  # somebody else was first with some of them; the rest goes with the next round
    first, more = notices[0], len(notices) - 1
    subject = f"Siftwood: {first.text[:120]}" + (f" (and {more} more)" if more else "")
    lines = [(notice.text, address_of(notice.kind, notice.record_id)) for notice in notices]
    if _send(person, subject, "anomalies/mail/notices.txt", {"person": person, "lines": lines}):
        return True
    PersonalNotice.objects.filter(pk__in=keys).update(mailed_at=None)
    return False


def send_digests(today: date | None = None) -> int:
    """Everybody of whom something is asked has today's digest, unless they want none; returns how many went out."""
    day = today or now().astimezone(UTC).date()
    people = User.objects.filter(is_active=True).exclude(email="").exclude(mail_choice__choice=MailChoice.Choice.NEVER)
    return sum(_send_digest(person, day) for person in people.exclude(mail_choice__digest_on=day).order_by("pk"))


def _send_digest(person: User, day: date) -> bool:
    blocks = read_blocks(person)
    if not blocks:
        return False
    row, _ = MailChoice.objects.get_or_create(person=person)
    before = row.digest_on
    mine = MailChoice.objects.filter(person=person, digest_on=before).update(digest_on=day)
    if before == day or not mine:
        return False
    parts = [
        (block.title, [(str(each), address_of(each.KIND, each.pk)) for each in block.rows], block.more)
        for block in blocks
    ]
    count = sum(len(rows) for _, rows, _ in parts)
    subject = f"Siftwood: {count} thing{'' if count == 1 else 's'} for you on {day:%Y-%m-%d}"
    if _send(person, subject, "anomalies/mail/digest.txt", {"person": person, "parts": parts, "day": day}):
        return True
    MailChoice.objects.filter(person=person).update(digest_on=before)
    return False


def address_of(kind: str, record_id: int) -> str:
    """Return where a record is seen, with the name of the site."""
    return f"{settings.SITE_URL}{reverse('anomalies:record', args=(kind, record_id))}"


def _send(person: User, subject: str, template: str, context: dict[str, object]) -> bool:
    subject = " ".join(subject.split())
    text = render_to_string(template, context | {"site": settings.SITE_URL})
    try:
        return bool(send_mail(subject, text, None, [person.email]))
    except OSError as error:  # smtplib's errors are such, and so is a full disk
        log.warning("mail_failed", person=person.pk, error=str(error))
        return False
