"""Bad files are refused before anything large, deep or foreign is built."""

from __future__ import annotations

import pytest

from faulttree.engine.exchange.limits import ReadLimits
from faulttree.engine.exchange.read_xml import read_open_psa
from tests.engine.exchange.documents import define_events, refuse_xml, write_tree

LAUGHS = "".join(f'<!ENTITY l{i} "{f"&l{i - 1};" * 10}">' for i in range(1, 10))


def _only(source: bytes, limits: ReadLimits | None = None) -> tuple[str, str, int | None]:
    [problem] = refuse_xml(source, limits or ReadLimits())
    return problem.message, problem.mend, problem.line


@pytest.mark.parametrize(
    "prologue",
    [
        '<!DOCTYPE opsa-mef SYSTEM "file:///etc/passwd">',
        '<!DOCTYPE opsa-mef PUBLIC "-//X//Y" "opsa.dtd">',
        "<!DOCTYPE opsa-mef>",
        '<!DOCTYPE opsa-mef [<!ENTITY secret SYSTEM "file:///etc/passwd">]>',
        f'<!DOCTYPE opsa-mef [<!ENTITY l0 "ha">{LAUGHS}]>',
        '<!DOCTYPE opsa-mef [<!ENTITY % outside SYSTEM "http://localhost/x.dtd"> %outside;]>',
    ],
    ids=["system", "public", "bare", "external entity", "entities of entities", "parameter entity"],
)
def test_any_document_type_is_refused(prologue: str) -> None:
    source = f'<?xml version="1.0"?>\n{prologue}\n<opsa-mef><label>&secret;&l9;</label></opsa-mef>'
    message, mend, line = _only(source.encode())
    assert message == "A document type declaration is not accepted."
    assert mend == "Delete the <!DOCTYPE ...> part."
    assert line == 2


def test_an_entity_without_declaration_is_refused() -> None:
    message, _, line = _only(b"<opsa-mef>\n<label>&nbsp;</label></opsa-mef>")
    assert message == "This is not well-formed XML: undefined entity."
    assert line == 2


def test_characters_written_as_predefined_entities_are_read() -> None:
    source = b"<opsa-mef><label>a &lt; b &#38; c</label></opsa-mef>"
    assert read_open_psa(source).label == "a < b & c"


@pytest.mark.parametrize(
    ("source", "what", "line"),
    [
        (b"", "no element found", 1),
        (b"plain words", "syntax error", 1),
        (b"<opsa-mef>\n<model-data>\n</opsa-mef>", "mismatched tag", 3),
        (b"<opsa-mef>\n\n", "no element found", 3),
        (b"<opsa-mef/>\n<opsa-mef/>", "junk after document element", 2),
        (b'<opsa-mef name="a" name="b"/>', "duplicate attribute", 1),
        (b"<opsa-mef>\n<x:y/></opsa-mef>", "unbound prefix", 2),
        (b"<opsa-mef>\n\xff</opsa-mef>", "not well-formed (invalid token)", 2),
        (b"\x00\x01\x02", "not well-formed (invalid token)", 1),
    ],
)
def test_malformed_xml_is_refused_with_its_line(source: bytes, what: str, line: int) -> None:
    message, _, found = _only(source)
    assert message == f"This is not well-formed XML: {what}."
    assert found == line


def test_the_element_still_open_is_named() -> None:
    _, mend, _ = _only(b"<opsa-mef>\n<model-data>\n</opsa-mef>")
    assert mend == "Mend the markup there; <model-data> of line 2 is still open."


@pytest.mark.parametrize("encoding", ["no-such-code", "shift-jis-of-old", "utf-7"])
def test_an_encoding_that_can_not_be_read_is_refused(encoding: str) -> None:
    refuse_xml(f'<?xml version="1.0" encoding="{encoding}"?><opsa-mef/>'.encode())


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "iso-8859-1"])
def test_declared_encodings_are_read(encoding: str) -> None:
    source = f'<?xml version="1.0" encoding="{encoding}"?><opsa-mef><label>Größe</label></opsa-mef>'
    assert read_open_psa(source.encode(encoding)).label == "Größe"


def test_too_many_bytes_are_refused_unread() -> None:
    message, mend, _ = _only(b"<opsa-mef>" + b" " * 100, ReadLimits(bytes=50))
    assert message == "The file has 110 bytes; at most 50 are read."
    assert mend == "Split the model."


def test_too_many_elements_are_refused_at_the_first_too_many() -> None:
    source = write_tree(define_events("a", "b", "c", "d"))
    message, _, line = _only(source, ReadLimits(elements=4))
    assert message == "The file has more than 4 elements."
    assert line == 5
    assert read_open_psa(source, limits=ReadLimits(elements=6))


def test_too_deep_nesting_is_refused_at_its_line() -> None:
    deep = "<not>\n" * 200_000
    source = write_tree(f'<define-gate name="g">{deep}').split(b"</define-fault-tree>")[0]
    message, mend, line = _only(source)
    assert message == "Elements are nested more than 100 deep."
    assert mend == "Give inner formulas gates of their own."
    assert line == 3 + 97


def test_nesting_up_to_the_limit_is_read() -> None:
    inside = "<not>" * 96 + '<basic-event name="e"/>' + "</not>" * 96
    source = write_tree(f'{define_events("e")}<define-gate name="g">{inside}</define-gate>')
    assert read_open_psa(source).gates
    [problem] = refuse_xml(source, ReadLimits(depth=99))
    assert "99 deep" in problem.message


def test_lines_are_exact_past_65535() -> None:
    source = write_tree("\n" * 70_000 + '<define-gate name="g"><or>\n<basic-event name="e"/></or></define-gate>')
    [problem] = refuse_xml(source)
    assert problem.line == 70_000 + 4


def test_names_of_a_namespace_and_comments_are_read() -> None:
    source = b"""<m:opsa-mef xmlns:m="urn:any"><!-- note --><?run this?>
        <m:define-fault-tree name="t"><m:define-gate name="g"><!-- x --><m:constant value="true"/></m:define-gate>
        </m:define-fault-tree></m:opsa-mef>"""
    assert list(read_open_psa(source).gates) == ["g"]
