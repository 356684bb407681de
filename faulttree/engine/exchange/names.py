"""Who is called what: public and private names, dotted paths, and what a reference means."""

from __future__ import annotations

import difflib
import re

NAME = re.compile(r"[^\W\d][\w-]*\Z")  # an XML name without colon and dot

Path = tuple[str, ...]


class NameSpace:
    """Names of one kind of thing (events and gates together, or parameters, or groups).

    A public element is known everywhere by its own name, any element by its dotted path, and a
    private one also by its own name inside its container.
    """

    def __init__(self) -> None:
        self._by_path: dict[str, str] = {}
        self._public: dict[str, str] = {}

    def add(self, name: str, path: Path, role: str) -> str | None:
        """Register an element; returns its unique name, or None when that is taken."""
        dotted = ".".join((*path, name))
        unique = name if role == "public" or not path else dotted
        if dotted in self._by_path or (unique == name and name in self._public):
            return None
        self._by_path[dotted] = unique
        if unique == name:
            self._public[name] = unique
        return unique

    def find(self, name: str, path: Path) -> str | None:
        """Return the unique name that a reference made inside `path` means, innermost container first."""
        for depth in range(len(path), -1, -1):
            unique = self._by_path.get(".".join((*path[:depth], name)))
            if unique is not None:
                return unique
        return self._public.get(name)

    def suggest(self, name: str) -> str:
        """A sentence with the nearest known names, or what to do when there are none."""
        near = difflib.get_close_matches(name, [*self._public, *self._by_path], 3, 0.7)
        if near:
            return "Did you mean " + " or ".join(dict.fromkeys(near)) + "?"
        return "Define it or correct the name."
