"""Every route and every form that the service has, found where Django and the register keep them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.urls import get_resolver, resolve
from rest_framework.renderers import TemplateHTMLRenderer

from anomalies.web.register import NEW, PAGES

METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")


def walk(patterns: list[Any], space: str = "") -> Iterator[tuple[str, Any]]:
    """Yield the name of every route, with its namespaces, and its view; one without a name by its pattern."""
    for pattern in patterns:
        if hasattr(pattern, "url_patterns"):
            inner = f"{space}{pattern.namespace}:" if pattern.namespace else space
            yield from walk(pattern.url_patterns, inner)
        else:
            yield f"{space}{pattern.name or pattern.pattern}", pattern.callback


def all_routes(patterns: list[Any] | None = None) -> dict[str, Any]:
    """Return every route with its view."""
    return dict(walk(get_resolver().url_patterns if patterns is None else patterns))


def is_api(view: Any) -> bool:
    """Whether the view answers programs; a page that is made of a view of the API answers people."""
    return hasattr(view, "cls") and TemplateHTMLRenderer not in view.cls.renderer_classes


def page_routes(routes: dict[str, Any]) -> set[str]:
    """Return the names of the routes that answer people."""
    return {name for name, view in routes.items() if not is_api(view)}


def api_operations(routes: dict[str, Any]) -> set[tuple[str, str]]:
    """Return every method of every route that answers programs."""
    return {
        (method, name)
        for name, view in routes.items()
        if is_api(view)
        for method in METHODS
        if hasattr(view.cls, method.lower())
    }


def all_forms() -> set[tuple[str, str]]:
    """Return kind and name of the form of every move."""
    import anomalies.forms  # noqa: F401  # enters the moves

    return set(PAGES)


def all_new_forms() -> set[str]:
    """Return the kinds that a form makes."""
    import anomalies.forms  # noqa: F401

    return set(NEW)


def name_route(address: str) -> str:
    """Return the name of the route that an address leads to."""
    return str(resolve(address.partition("?")[0].partition("#")[0]).view_name)
