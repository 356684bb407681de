"""What to say of a function with a wrong number of arguments."""

from __future__ import annotations

from faulttree.engine.events.functions import FUNCTIONS


def describe_count(name: str, count: int) -> tuple[str, str] | None:
    """Return what is wrong and the mend, or None when the function takes that many arguments."""
    function = FUNCTIONS[name]
    if function.accepts(count):
        return None
    if name == "periodic-test" and count == 11:
        message = "The periodic test with 11 arguments is not supported."
        return message, "Use the form with 4 or 5 arguments (instantaneous tests)."
    mend = f"It takes {function.wanted}" + (f": {function.arguments}" if function.arguments else "")
    noun = "argument" if count == 1 else "arguments"
    return f"{name} has {count} {noun}.", mend if mend.endswith(".") else f"{mend}."
