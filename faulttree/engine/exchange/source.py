"""Safe parsing: XML bytes to elements that know their line; no document type, no entity, no network.

The parser stops at the first thing that is refused, so nothing large or deep is ever built. Lines are
exact in files of any length, which tree parsers that keep a line in 16 bits can't give.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from xml.parsers import expat

from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.exchange.limits import ReadLimits

NAMESPACE_SEPARATOR = " "


@dataclass(slots=True, eq=False)
class Element:
    """One element: its name without namespace, its attributes, where it starts and what it holds.

    text is kept for labels alone; line is 1-based.
    """

    tag: str
    attributes: dict[str, str]
    line: int
    children: list[Element] = field(default_factory=list)
    text: str = ""

    def get(self, name: str, default: str = "") -> str:
        """Value of an attribute."""
        return self.attributes.get(name, default)


def parse_xml(data: bytes, *, file: str, limits: ReadLimits) -> Element:
    """Return the root element; raises BadModel for anything but small, well-formed, plain XML."""
    if len(data) > limits.bytes:
        message = f"The file has {len(data):,} bytes; at most {limits.bytes:,} are read."
        raise BadModel(Problem(message, "Split the model.", file=file))
    parser = _Parser(file, limits)
    try:
        return parser.parse(data)
    except expat.ExpatError as error:
        text = expat.ErrorString(error.code)
        raise parser.refusal(f"This is not well-formed XML: {text}.", parser.mend_markup(), error.lineno) from None
    except (LookupError, ValueError):  # what an encoding that is declared but not known gives
        raise parser.refusal("The encoding of the file is not known.", "Save it as UTF-8.", 1) from None


class _Parser:
    """Builds elements from the parser's events; `_open` holds those that are not closed yet."""

    def __init__(self, file: str, limits: ReadLimits) -> None:
        self._file = file
        self._limits = limits
        self._open: list[Element] = []
        self._text: list[str] = []
        self._root: Element | None = None
        self._count = 0
        self._expat = expat.ParserCreate(namespace_separator=NAMESPACE_SEPARATOR)
        self._expat.buffer_text = True
        self._expat.StartElementHandler = self._start
        self._expat.EndElementHandler = self._end
        self._expat.CharacterDataHandler = self._characters
        self._expat.StartDoctypeDeclHandler = self._doctype

    def parse(self, data: bytes) -> Element:
        self._expat.Parse(data, True)
        if self._root is None:  # the parser reports a file without elements itself
            raise self.refusal("The file has no element.", "An exchange file starts with <opsa-mef>.", 1)
        return self._root

    def refusal(self, message: str, mend: str, line: int) -> BadModel:
        return BadModel(Problem(message, mend, file=self._file, line=line))

    def mend_markup(self) -> str:
        if not self._open:
            return "Mend the markup there."
        last = self._open[-1]
        return f"Mend the markup there; <{last.tag}> of line {last.line} is still open."

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        element = Element(name.rsplit(NAMESPACE_SEPARATOR, 1)[-1], attributes, self._expat.CurrentLineNumber)
        self._count += 1
        if self._count > self._limits.elements:
            message = f"The file has more than {self._limits.elements:,} elements."
            raise self.refusal(message, "Split the model.", element.line)
        if len(self._open) == self._limits.depth:
            message = f"Elements are nested more than {self._limits.depth} deep."
            raise self.refusal(message, "Give inner formulas gates of their own.", element.line)
        if self._open:
            self._open[-1].children.append(element)
        else:
            self._root = element
        self._open.append(element)

    def _end(self, name: str) -> None:
        element = self._open.pop()
        if element.tag == "label":
            element.text = "".join(self._text)
            self._text.clear()

    def _characters(self, text: str) -> None:
        if self._open[-1].tag == "label":
            self._text.append(text)

    def _doctype(self, *_: object) -> None:
        message = "A document type declaration is not accepted."
        raise self.refusal(message, "Delete the <!DOCTYPE ...> part.", self._expat.CurrentLineNumber)
