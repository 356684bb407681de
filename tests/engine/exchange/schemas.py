"""The two formats as schemas, for parsers that know nothing of ours."""

from __future__ import annotations

from pathlib import Path

from jsonschema import Draft202012Validator
from lxml import etree

from faulttree.engine.exchange.json_schema import load_schema

EXCHANGE = etree.RelaxNG(etree.parse(Path(__file__).with_name("exchange.rng")))
PLAIN_JSON = Draft202012Validator(load_schema())


def find_faults(source: bytes) -> list[str]:
    """Return what the schema of the exchange format finds in a document, each with its line."""
    EXCHANGE.validate(etree.fromstring(source))
    return [f"line {fault.line}: {fault.message}" for fault in EXCHANGE.error_log]
