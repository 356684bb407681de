"""The main navigation: what is there and what the person may see."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse

from config.kit.permissions import allows


@dataclass(frozen=True, slots=True)
class Entry:
    """One place; `rule` says who sees it, `also` where else its pages are."""

    label: str
    route: str
    rule: str = ""
    also: tuple[str, ...] = ()


ENTRIES = (
    Entry("Now", "anomalies:now"),
    Entry("Log", "anomalies:log", "anomaly.view"),
    Entry("Trees", "faulttree:trees", "tree.view", also=("/runs/",)),
    Entry("Actions", "anomalies:actions", "action.view"),
    Entry("Procedures", "anomalies:procedures", "procedure.view"),
    Entry("Activities", "anomalies:activities", "activity.view"),
    Entry("Readiness", "anomalies:readiness_list", "readiness_review.view"),
    Entry("Hardware", "anomalies:hardware", "hardware.view"),
    Entry("Lessons", "anomalies:lessons", "anomaly.view"),
    Entry("Learning", "anomalies:learning", "anomaly.view"),
    Entry("Trends", "anomalies:trends", "anomaly.view"),
)


@dataclass(frozen=True, slots=True)
class Link:
    """An entry as it is shown; `current` is what aria-current says: the page itself, or a page below it."""

    label: str
    url: str
    current: str = ""


def navigation(request: HttpRequest) -> dict[str, Any]:
    """Context of every page: the links, worked out when the page asks for them."""
    return {"navigation": lambda: read_links(request)}


def read_links(request: HttpRequest) -> list[Link]:
    """Return the links for whoever is logged in; nobody else sees any."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return []
    found = [(entry, find_url(entry.route)) for entry in ENTRIES if not entry.rule or allows(user, entry.rule)]
    return [Link(entry.label, url, mark(request.path, url, entry.also)) for entry, url in found if url]


def find_url(route: str) -> str:
    """Return the address of a route; empty while there is none."""
    try:
        return reverse(route)
    except NoReverseMatch:
        return ""


def mark(path: str, url: str, also: tuple[str, ...] = ()) -> str:
    """Return the value of aria-current: nothing is below the start page but itself."""
    if path == url:
        return "page"
    below = (*also, *([url] if url != "/" else []))
    return "true" if path.startswith(below) else ""
