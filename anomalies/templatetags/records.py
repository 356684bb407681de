"""How templates write moments, people, states, risks and the moves of a record."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from django import template
from django.conf import settings
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from anomalies.mission_clock import write_mission_time
from anomalies.models import Anomaly, PersonalNotice
from anomalies.models.base import Record
from anomalies.reads.history import Event
from anomalies.web.deeds import write_deed
from anomalies.web.fields import name_of
from anomalies.web.offers import Offer, find_offers
from config.kit.permissions import allows

register = template.Library()

TONES = {
    **dict.fromkeys(("open", "under_way", "committed", "submitted", "approved", "reported", "proposed"), "act"),
    **dict.fromkeys(("in_force", "quarantined", "done", "ended_early", "credible", "drafted", "draft"), "warn"),
    **dict.fromkeys(("closed", "verified", "effective", "adopted", "released", "resolved", "completed"), "good"),
    **dict.fromkeys(("in_service", "installed", "held", "standing"), ""),
    "confirmed": "alert",
}


@register.filter
def moment(at: datetime | None) -> SafeString | str:
    """Write a moment in UTC, with the mission clock beside it where there's one."""
    if at is None:
        return "–"
    at = at.astimezone(UTC)
    utc = f"{at:%Y-%m-%d %H:%M:%S}" if at.second else f"{at:%Y-%m-%d %H:%M}"
    if not settings.MISSION_EPOCH:
        return format_html('<time datetime="{}">{} UTC</time>', at.isoformat(), utc)
    clock = write_mission_time(at, settings.MISSION_EPOCH)
    return format_html('<time datetime="{}">{} UTC <span class="clock">{}</span></time>', at.isoformat(), utc, clock)


@register.filter
def person(who: Any) -> str:
    """Write somebody's name."""
    return name_of(who) if who else "–"


@register.filter
def state(record: Any) -> SafeString:
    """Write a record's state as a tag: the word says it, the colour only helps."""
    tone = TONES.get(record.state, "")
    return format_html('<span class="tag{}">{}</span>', f" is-{tone}" if tone else "", record.get_state_display())


@register.filter
def at(found: Mapping[str, Any], key: str) -> Any:
    """Look something up; what isn't there is the key itself."""
    return found.get(key, key)


@register.filter
def risk(anomaly: Anomaly) -> SafeString:
    """Write the risk assessment code with the word of its level."""
    level = anomaly.risk
    if level is None:
        return format_html('<span class="soft">{}</span>', "not assessed")
    markup = '<span class="risk risk--{}"><span class="risk__code">{}</span> {}</span>'
    return format_html(markup, level.value, anomaly.risk_code, level.label)


@register.filter
def deed(event: Event) -> str:
    """Say what an entry of the ledger did."""
    return write_deed(event.action)


@register.filter
def address(record: Record) -> str:
    """Give the address that leads to the record's page, without a query."""
    return address_of(record.KIND, record.pk)


@register.simple_tag
def address_of(kind: str, record_id: int) -> str:
    """Give the address that leads to a record's page, without a query."""
    return reverse("anomalies:record", args=(kind, record_id))


@register.simple_tag(takes_context=True)
def offers(context: template.Context, record: Record, section: str | None = None) -> list[Offer]:
    """Give the moves that the person may make to the record now; of one section of its page, or of all."""
    return find_offers(context["user"], record, section=section)


@register.simple_tag(takes_context=True)
def unseen_notices(context: template.Context) -> int:
    """Count the notices that the person hasn't looked at; one query."""
    user = context.get("user")
    return PersonalNotice.objects.visible_to(user).unseen().count() if user and user.is_authenticated else 0


@register.simple_tag(takes_context=True)
def may(context: template.Context, rule: str, record: Any = None) -> bool:
    """Tell whether the person may do this."""
    return allows(context["user"], rule, record)
