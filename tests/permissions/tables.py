"""Reads the tables: rows of cells between bars, comments after a #."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from tests.permissions.people import NO_ROLE, PARTS, ROLES, VISITOR, read_who
from tests.permissions.rules_table import RULES


def read_rows(table: str) -> list[list[str]]:
    """Return the cells of every row."""
    lines = (line.partition("  #")[0].strip() for line in table.splitlines())
    return [[cell.strip() for cell in line.split("|")] for line in lines if line]


@cache
def read_rules(table: str = RULES) -> dict[tuple[str, str], frozenset[str]]:
    """Return who may by rule and state; the state is "" for a rule that is the same in all."""
    found: dict[tuple[str, str], frozenset[str]] = {}
    for head, who in read_rows(table):
        name, *states = head.split()
        for state in [state.removeprefix("@") for state in states] or [""]:
            if (name, state) in found:
                raise ValueError(f"{name} has two rows for the same state")
            found[name, state] = read_who(who)
    return found


def who_may(rule: str, state: str = "") -> frozenset[str]:
    """Return who may by the table, for a record in this state; KeyError where the table has no row."""
    rules = read_rules()
    return rules[rule, ""] if (rule, "") in rules else rules[rule, state]


NO_PAGE = (
    ".css",
    ".csv",
    ".json",
    ".pdf",
    ".svg",
    ".xml",
    "/file/",
    "/pieces/",
    "/source/",
    "/log/new/hardware/",
    "/search/options/",
)


@dataclass(frozen=True, slots=True)
class Door:
    """One way in: a method and an address that is filled in from the world.

    may     who may, in words or as the name of a rule
    finds   who is told that it's there: all others get 404
    """

    method: str
    address: str
    may: str
    finds: str

    @property
    def rule(self) -> str:
        """The name of the rule that says who may; "" where the table says it in words."""
        name = self.may.partition(" @")[0]
        return name if "." in name else ""

    @property
    def is_page(self) -> bool:
        """Whether it's a page of its own: not a form, a file, a piece of a page, nor the way from a key to a page."""
        return not self.address.startswith(("/records/", "/new/")) and not self.address.endswith(NO_PAGE)

    @property
    def is_move(self) -> bool:
        """Whether it's the form of a move."""
        return self.address.startswith("/records/") and self.address.count("/") > 4

    @property
    def cast(self) -> tuple[str, ...]:
        """Whom to try it with: those who had a part in the records only where the row speaks of one."""
        rows = [who for head, who in read_rows(RULES) if head.split()[0] == self.rule] or [self.may]
        told = " ".join([self.finds, *rows])
        return (*ROLES, NO_ROLE, VISITOR, *(PARTS if any(part in told for part in PARTS) else ()))

    @property
    def finders(self) -> frozenset[str]:
        """Who is told that it's there."""
        return read_who(self.finds)

    @property
    def goers(self) -> frozenset[str]:
        """Who may go through."""
        rule, _, state = self.may.partition(" @")
        return self.finders & (who_may(rule, state) if self.rule else read_who(self.may))


def read_doors(table: str) -> list[Door]:
    """Return every door of a table: a row each, with its methods, its address, who may and who finds it."""
    doors = []
    for head, may, *finds in read_rows(table):
        *methods, address = head.split()
        doors += [Door(method, address, may, finds[0] if finds else "everyone") for method in methods]
    return doors
