"""What an edit that can't be made raises."""

from __future__ import annotations

from faulttree.engine.errors import EngineError


class EditRefused(EngineError):
    """The edit can't be made; `field` is the name of the argument that is at fault, empty where none is."""

    code = "edit_refused"

    def __init__(self, message: str, mend: str = "", field: str = "") -> None:
        self.message, self.mend, self.field = message, mend, field
        super().__init__(f"{message} {mend}".strip())
