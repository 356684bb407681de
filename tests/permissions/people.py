"""Who the tables speak of: every role by somebody who had no part in the records, and those who had one."""

from __future__ import annotations

from django.contrib.auth.models import Group, User

ROLES = (
    "recorder",
    "board member",
    "safety engineer",
    "action owner",
    "verifier",
    "activity lead",
    "viewer",
    "administrator",
)
"""Written by hand: a role that is added must be given its place in the tables."""
NO_ROLE = "no role"
VISITOR = "visitor"
"""Somebody who isn't logged in."""

PARTS = {  # what somebody has to do with the records of this world -> the account, and the roles they hold now
    "who made it": ("recorder", ("recorder",)),
    "who leads it": ("board-member", ("board member",)),
    "who owns it": ("action-owner", ("action owner", "verifier")),
    "who wrote it": ("writer", ("verifier",)),
    "whose draft it is": ("ada", ("safety engineer",)),
}
SIGNED_IN = (*ROLES, NO_ROLE, *PARTS)
EVERYBODY = (*SIGNED_IN, VISITOR)
ROLES_OF = {**{role: (role,) for role in ROLES}, **{part: roles for part, (_, roles) in PARTS.items()}}


def read_who(text: str) -> frozenset[str]:
    """Return the people of a table's cell, like `recorder, verifier, who leads it; never who owns it`.

    A role stands for all who hold it; `everyone` for all who are logged in; `nobody` for none.
    """
    text, _, never = text.partition("; never ")
    found: set[str] = set()
    for name in filter(None, (part.strip() for part in text.split(","))):
        if name == "everyone":
            found.update(SIGNED_IN)
        elif name == "every role":
            found.update(ROLES_OF)
        elif name in ROLES:
            found.update(person for person, roles in ROLES_OF.items() if name in roles)
        elif name in PARTS:
            found.add(name)
        elif name != "nobody":
            raise ValueError(f"{name!r} is nobody the tables know")
    return frozenset(found - {part.strip() for part in never.split(",")})


def cast_people() -> dict[str, User]:
    """Return everybody who can log in, with the roles they hold now and no others."""
    people = {}
    for name in SIGNED_IN:
        account = PARTS[name][0] if name in PARTS else f"other-{name.replace(' ', '-')}"
        person, _ = User.objects.get_or_create(username=account)
        person.groups.set(Group.objects.filter(name__in=ROLES_OF.get(name, ())))
        people[name] = User.objects.get(pk=person.pk)  # without cached permissions
    return people
