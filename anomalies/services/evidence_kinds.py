"""What each kind of evidence needs, and which files it takes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from anomalies.file_types import PICTURES, TEXT
from anomalies.models import Evidence
from anomalies.services.checks import need_past
from anomalies.telemetry import find_spans
from config.kit.errors import BadInput

K = Evidence.Kind
OF_KIND: dict[str, tuple[str, ...]] = {
    K.PHOTOGRAPH: (),
    K.DOCUMENT: (),
    K.STATEMENT: ("statement", "stated_by"),
    K.TELEMETRY: ("unit", "low", "high"),
    K.LINK: ("address",),
}
"""Fields that only this kind has."""

TYPES: dict[str, frozenset[str] | None] = {
    K.PHOTOGRAPH: PICTURES,
    K.DOCUMENT: None,
    K.STATEMENT: PICTURES | {TEXT, "application/pdf"},
    K.TELEMETRY: frozenset({TEXT}),
    K.LINK: frozenset(),
}
"""Media types, by content, that it takes; None: any, because it's only ever handed out as a file to save."""

EXPECTED: dict[str, str] = {
    K.PHOTOGRAPH: "a PNG, JPEG, GIF or WebP picture, or add it as a document",
    K.DOCUMENT: "another file",
    K.STATEMENT: "text, a PDF document or a picture of the page",
    K.TELEMETRY: "a CSV file: text in UTF-8, a time and a value on each line",
    K.LINK: "no file",
}

NO_FILE = "Choose a file."
NO_WORDS = "Write the statement down, or choose a file that holds it."
NO_SPEAKER = "Say whose statement it is."
NO_UNIT = "Say in which unit the values are."
NOT_WEB = "Give an address that starts with http:// or https://."
A_LINK_HAS_NONE = "A link has no file."


def check_details(kind: str, values: Mapping[str, Any], *, has_file: bool) -> None:
    """Raise BadInput that names all that this kind still needs, or that can't be."""
    faults: dict[str, list[str]] = {}
    if kind in (K.PHOTOGRAPH, K.DOCUMENT, K.TELEMETRY) and not has_file:
        faults["file"] = [NO_FILE]
    if kind == K.STATEMENT and not (has_file or values.get("statement")):
        faults["statement"] = [NO_WORDS]
    if kind == K.STATEMENT and not values.get("stated_by"):
        faults["stated_by"] = [NO_SPEAKER]
    if kind == K.TELEMETRY and not values.get("unit"):
        faults["unit"] = [NO_UNIT]
    if kind == K.LINK and not str(values.get("address", "")).startswith(("http://", "https://")):
        faults["address"] = [NOT_WEB]
    if kind == K.LINK and has_file:
        faults["file"] = [A_LINK_HAS_NONE]
    if faults:
        raise BadInput("Something is missing; nothing was saved.", fields=faults)
    if values.get("taken_at"):
        need_past("taken_at", values["taken_at"])
    find_spans([], low=values.get("low"), high=values.get("high"))
