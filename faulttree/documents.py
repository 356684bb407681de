"""Models as drafts keep them and as revisions store them: packed, read, begun, finished."""

from __future__ import annotations

import zlib
from dataclasses import replace
from threading import Lock

from faulttree.bridge import read_source
from faulttree.engine.editing.inputs import flatten
from faulttree.engine.editing.kinds import make_combination
from faulttree.engine.editing.marks import is_transfer
from faulttree.engine.editing.names import number_name
from faulttree.engine.exchange.plain_json import read_json, write_json
from faulttree.engine.exchange.write_xml import write_open_psa
from faulttree.engine.model import Combination, Connective, Container, Gate, Model, Placing, Truth
from faulttree.models import DraftStep, TreeRevision

MOST_KNOWN = 48
_KNOWN: dict[bytes, Model] = {}
_LOCK = Lock()


def start_model(name: str, label: str, kind: str, low: int | None = None) -> Model:
    """Return a tree of one top gate without inputs."""
    top = number_name("G", {name})
    gate = Gate(top, make_combination(kind, (), low), Placing((name,), label=label))
    return Model(name, "", (Container((name,), label=label),), {top: gate})


def open_model(revision: TreeRevision) -> Model:
    """Return the model of a revision as it is edited: flat, transfers without inputs, nothing put in their place."""
    source = read_source(bytes(revision.source), file=revision.file_name)
    gates = {name: _open_transfer(gate) for name, gate in source.gates.items()}
    return flatten(replace(source, gates=gates))


def write_source(model: Model) -> bytes:
    """Return a finished model as the exchange XML that a revision keeps; raises BadModel."""
    gates = {name: _close_transfer(gate) for name, gate in model.gates.items()}
    return write_open_psa(replace(model, gates=gates))


def pack_model(model: Model) -> bytes:
    """Return a model, finished or not, as a step keeps it."""
    document = zlib.compress(write_json(model), 1)
    _remember(document, model)
    return document


def read_step_model(step: DraftStep) -> Model:
    """Return the model of a step, read once per process while it is in use."""
    document = bytes(step.document)
    known = _KNOWN.get(document)
    return known or _remember(document, read_json(zlib.decompress(document), finished=False))


def _remember(document: bytes, model: Model) -> Model:
    """Keep the models used last: the one that an edit gave is asked for a moment later."""
    with _LOCK:
        _KNOWN[document] = model
        while len(_KNOWN) > MOST_KNOWN:
            del _KNOWN[next(iter(_KNOWN))]
    return model


def _open_transfer(gate: Gate) -> Gate:
    return replace(gate, formula=Combination(Connective.OR, ())) if is_transfer(gate) else gate


def _close_transfer(gate: Gate) -> Gate:
    """Give a transfer a formula that the format can hold: it never occurs by itself."""
    return replace(gate, formula=Truth(False)) if is_transfer(gate) else gate
