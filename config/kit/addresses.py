"""Reads what an address asks for; what makes no sense is left out."""

from __future__ import annotations

from collections.abc import Container, Mapping

LONGEST = 200
LAST_KEY = 2**63 - 1


def read_text(query: Mapping[str, str], name: str = "words") -> str:
    """Return a parameter as text, cut to LONGEST, without the zero character, which no database's text can hold."""
    return query.get(name, "").replace("\0", "").strip()[:LONGEST]


def read_key(query: Mapping[str, str], name: str) -> str:
    """Return a parameter that names a row by its key, if it can be one."""
    text = read_text(query, name)
    return text if text.isdecimal() and text.isascii() and int(text) <= LAST_KEY else ""


def read_choice(query: Mapping[str, str], name: str, choices: Container[str]) -> str:
    """Return a parameter that is one of the choices."""
    text = read_text(query, name)
    return text if text in choices else ""
