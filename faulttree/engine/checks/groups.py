"""Checks of common-cause groups: members and levels."""

from __future__ import annotations

from faulttree.engine.model import CommonCauseGroup, Model
from faulttree.engine.problems import Problems, suggest_name


def check_groups(problems: Problems, model: Model) -> None:
    """Members are basic events of one group each; a group's factors are those its model needs."""
    seen: dict[str, str] = {}
    for group in model.common_cause_groups.values():
        element, line = f"common-cause group {group.name}", group.placing.line
        for member in group.members:
            if member not in model.basic_events:
                message = f"The member {member} is not a basic event."
                problems.add(element, line, message, suggest_name(member, model.basic_events))
            if member in seen:
                message = f"{member} is already a member of {seen[member]}."
                problems.add(element, line, message, "An event is a member of one group, once.")
            seen[member] = group.name
        _check_levels(problems, element, group)


def _check_levels(problems: Problems, element: str, group: CommonCauseGroup) -> None:
    size, line = len(group.members), group.placing.line
    if size < 2:
        noun = "member" if size == 1 else "members"
        problems.add(element, line, f"The group has {size} {noun}.", "A group needs two or more.")
        return
    wanted = {
        "beta-factor": [[size], [2]],
        "MGL": [list(range(2, size + 1))],
        "alpha-factor": [list(range(1, size + 1))],
        "phi-factor": [list(range(1, size + 1))],
    }
    if group.model not in wanted:
        problems.add(element, line, f"There is no common-cause model {group.model}.", f"Use {', '.join(wanted)}.")
        return
    levels = [level for level, _ in group.factors]
    if levels not in wanted[group.model]:
        found = f"factors for the levels {', '.join(map(str, levels))}" if levels else "no factors"
        message = f"{group.model} with {size} members has {found}."
        text = ", ".join(map(str, wanted[group.model][0]))
        several = "one factor for each of the levels" if len(wanted[group.model][0]) > 1 else "one factor for the level"
        problems.add(element, line, message, f"Give {several} {text}.")
