"""Safe parsing: XML bytes to an element tree, without entities, document types or network."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from lxml import etree

from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.exchange.limits import ReadLimits

Element = etree._Element  # lxml names its element class so; there is no public alias


def parse_xml(data: bytes, *, file: str, limits: ReadLimits) -> Element:
    """Return the root element; raises BadModel for anything but small, well-formed, plain XML."""
    if len(data) > limits.bytes:
        raise _refuse(file, f"The file has {len(data):,} bytes; at most {limits.bytes:,} are read.", "Split the model.")
    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, dtd_validation=False, huge_tree=False, remove_pis=True
    )
    try:
        root = etree.fromstring(data, parser)
    except (etree.XMLSyntaxError, ValueError) as error:
        line = getattr(error, "lineno", None)
        text = str(error).split(", line")[0].rstrip(".")
        raise _refuse(file, f"This is not well-formed XML: {text}.", "Mend the markup there.", line) from None
    tree = root.getroottree()
    information: Any = tree.docinfo
    if information.doctype or information.internalDTD is not None:
        raise _refuse(file, "A document type declaration is not accepted.", "Delete the <!DOCTYPE ...> part.")
    _check_size(root, file, limits)
    return root


def _check_size(root: Element, file: str, limits: ReadLimits) -> None:
    count = 0
    stack = [(root, 1)]
    while stack:
        element, depth = stack.pop()
        count += 1
        if depth > limits.depth:
            mend = "Give inner formulas gates of their own."
            raise _refuse(file, f"Elements are nested more than {limits.depth} deep.", mend, line_of(element))
        if count > limits.elements:
            raise _refuse(file, f"The file has more than {limits.elements:,} elements.", "Split the model.")
        if isinstance(element, etree._Entity):
            raise _refuse(file, "An entity is not accepted.", "Write the text itself.", line_of(element))
        stack.extend((child, depth + 1) for child in element)


def children(element: Element) -> Iterator[Element]:
    """Child elements, without comments."""
    return (child for child in element if isinstance(child.tag, str))


def line_of(element: Element) -> int | None:
    """Line of an element in its file, 1-based."""
    line: Any = element.sourceline
    return None if line is None else int(line)


def tag(element: Element) -> str:
    """Name of an element without its namespace."""
    return etree.QName(element).localname


def _refuse(file: str, message: str, mend: str, line: int | None = None) -> BadModel:
    return BadModel(Problem(message, mend, file=file, line=line))
