"""Who is called what: public and private names, dotted paths, and what a reference means."""

from __future__ import annotations

import re

from faulttree.engine.problems import suggest_name

LONGEST_NAME = 200
NAME = re.compile(rf"[^\W\d][\w-]{{0,{LONGEST_NAME - 1}}}\Z")  # an XML name without colon and dot
NAME_RULE = f"Use a letter, then letters, digits, hyphens or underscores; no dot, no blank, at most {LONGEST_NAME}."

Path = tuple[str, ...]


class NameSpace:
    """Names of one kind of thing (events and gates together, or parameters, or groups).

    A public element is known everywhere by its own name, any element by its dotted path, and a
    private one also by its own name inside its container.
    """

    def __init__(self) -> None:
        self._by_path: dict[str, str] = {}
        self._public: dict[str, str] = {}
        self._paths: dict[str, str] = {}
        self._kinds: dict[str, str] = {}

    def add(self, name: str, path: Path, role: str, kind: str) -> str | None:
        """Register an element; returns its unique name, or None when that is taken."""
        dotted = ".".join((*path, name))
        unique = name_element(name, path, role)
        if dotted in self._by_path or unique in self._paths:
            return None
        self._by_path[dotted] = unique
        self._paths[unique] = dotted
        self._kinds[unique] = kind
        if unique == name:
            self._public[name] = unique
        return unique

    def find(self, name: str, path: Path) -> str | None:
        """Return the unique name that a reference made inside `path` means.

        A whole dotted path comes first, then paths from the innermost container outwards, then public names.
        """
        if "." in name and name in self._by_path:
            return self._by_path[name]
        for depth in range(len(path), -1, -1):
            unique = self._by_path.get(".".join((*path[:depth], name)))
            if unique is not None:
                return unique
        return self._public.get(name)

    def kind_of(self, unique: str) -> str:
        """Return the kind that an element was registered with."""
        return self._kinds[unique]

    def spell(self, unique: str, path: Path) -> str | None:
        """Return how a reference made inside `path` names an element, or None when no spelling means it."""
        dotted = self._paths.get(unique)
        if dotted is None:
            return None
        own = dotted.rsplit(".", 1)[-1]
        return next((name for name in (own, dotted) if self.find(name, path) == unique), None)

    def suggest(self, name: str) -> str:
        """A sentence with the nearest known names, or what to do when there are none."""
        return suggest_name(name, self._paths)


def name_element(name: str, path: Path, role: str) -> str:
    """Return the unique name of an element: its own when public, its dotted path when private."""
    return name if role == "public" else ".".join((*path, name))
