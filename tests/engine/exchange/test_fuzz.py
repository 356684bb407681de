"""Whatever the bytes are, reading gives a model or a refusal in words, never anything else."""

from __future__ import annotations

import re
from copy import deepcopy

from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from faulttree.engine.errors import BadModel
from faulttree.engine.exchange.limits import ReadLimits
from faulttree.engine.exchange.plain_json import read_json, write_json
from faulttree.engine.exchange.read_xml import read_open_psa
from faulttree.engine.exchange.write_xml import write_open_psa
from tests.trees import ROOT

SAMPLES = [path.read_bytes() for path in sorted((ROOT / "fixtures" / "trees").glob("*.xml"))]
JSON_SAMPLES = [write_json(read_open_psa(sample)) for sample in SAMPLES]
LIMITS = ReadLimits(bytes=200_000, elements=5_000)
TOKENS = [b"<", b">", b"/>", b'"', b"&", b"<!DOCTYPE x>", b"]]>", b"<![CDATA[", b"\x00", b"\xff", b"\n", b"-", b"1e999"]
JSON_TOKENS = [b"{", b"}", b"[", b"]", b'"', b",", b":", b"null", b"true", b"-1", b"1e999", b"NaN", b"\x00", b"\xff"]


@st.composite
def mutated(draw: st.DrawFn, samples: list[bytes], tokens: list[bytes], pieces: re.Pattern[bytes]) -> bytes:
    """A sample with a few changes: bytes overwritten, cut or inserted, whole pieces swapped, removed or doubled."""
    source = draw(st.sampled_from(samples))
    for _ in range(draw(st.integers(1, 3))):
        kind = draw(st.integers(0, 5))
        found = list(pieces.finditer(source))
        if kind <= 2 and found:
            piece, other = (found[draw(st.integers(0, len(found) - 1))] for _ in range(2))
            new = (b"", piece.group() * 2, other.group())[kind]
            source = source[: piece.start()] + new + source[piece.end() :]
            continue
        start = draw(st.integers(0, len(source)))
        stop = start if kind == 3 else min(len(source), start + draw(st.integers(0, 40)))
        new = draw(st.sampled_from(tokens) | st.binary(max_size=4)) if kind != 5 else b""
        source = source[:start] + new + source[stop:]
    return source


ODD = ["", "-1", "0", "1e999", "nan", "no name", "a.b", "true", "private", "99999999", "é", "_"]


@st.composite
def rearranged(draw: st.DrawFn) -> bytes:
    """Well-formed XML that may make no sense: elements of a sample moved, doubled, removed, renamed, changed."""
    root = etree.fromstring(draw(st.sampled_from(SAMPLES)))
    elements = [element for element in root.iter("*") if element is not root]
    for _ in range(draw(st.integers(1, 4))):
        element, other = (elements[draw(st.integers(0, len(elements) - 1))] for _ in range(2))
        kind = draw(st.integers(0, 5))
        parent = element.getparent()
        if kind == 0 and parent is not None:
            parent.remove(element)
        elif kind == 1:
            other.append(deepcopy(element))
        elif kind == 2 and element not in other.iterancestors() and element is not other:
            other.append(element)
        elif kind == 3:
            element.tag = other.tag
        elif element.attrib:
            name = draw(st.sampled_from([*sorted(element.attrib), "role", "unit", "level"]))
            values = ODD if kind == 4 else [str(value) for value in other.attrib.values()] or ODD
            element.set(name, draw(st.sampled_from(values)))
    return etree.tostring(root)


def check_xml(source: bytes) -> None:
    """A model that is given back, or a refusal."""
    try:
        model = read_open_psa(source, file="t.xml", limits=LIMITS)
    except BadModel as refused:
        check_refusal(refused)
    else:
        assert read_open_psa(write_open_psa(model)) == model


def check_json(source: bytes) -> None:
    """A model that is given back, or a refusal."""
    try:
        model = read_json(source, file="t.json", limits=LIMITS)
    except BadModel as refused:
        check_refusal(refused)
    else:
        assert read_json(write_json(model)) == model


def check_refusal(refused: BadModel) -> None:
    """Each problem is one bearable line with a mend."""
    assert refused.problems
    for problem in refused.problems:
        assert problem.message
        assert problem.mend
        assert not set("\n\r") & set(str(problem))
    assert len(str(refused.problems[0])) < 2_000


@settings(max_examples=500, deadline=None)
@given(mutated(SAMPLES, TOKENS, re.compile(rb"<[^<>]*>|[\w.-]+")))
def test_mutated_xml_is_read_or_refused(source: bytes) -> None:
    check_xml(source)


@settings(max_examples=500, deadline=None)
@given(rearranged())
def test_rearranged_xml_is_read_or_refused(source: bytes) -> None:
    check_xml(source)


@settings(max_examples=500, deadline=None)
@given(mutated(JSON_SAMPLES, JSON_TOKENS, re.compile(rb'"[^"\n]*"|[\d.e+-]+|[{}\[\],:]')))
def test_mutated_json_is_read_or_refused(source: bytes) -> None:
    check_json(source)


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=200) | st.text(max_size=100).map(lambda text: text.encode("utf-8", "surrogatepass")))
def test_random_bytes_are_refused_in_words(source: bytes) -> None:
    check_xml(source)
    check_json(source)
    check_xml(b"<opsa-mef>" + source + b"</opsa-mef>")
    check_json(b'{"gates": {"g": {"formula": ' + source + b"}}}")
