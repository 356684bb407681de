"""An uncertainty run in parts: each computed where there is a processor, put together to the same digits."""

from __future__ import annotations

import io
import json
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from faulttree.engine.analysis.uncertainty import BLOCK, Block, sample_block, summarise
from faulttree.engine.budget import Budget, Progress, Watch
from faulttree.engine.diagrams.solution import solve
from faulttree.engine.events.sampling import Sampling, Source
from faulttree.engine.model import Model
from faulttree.engine.parts import note_uncertainty
from faulttree.engine.request import Request
from faulttree.engine.results import Quantification
from faulttree.engine.run import prepare_run


def divide_samples(samples: int, parts: int) -> list[tuple[int, int]]:
    """Return start and stop of at most `parts` parts of about equal size, each of whole blocks but the last."""
    blocks = -(-samples // BLOCK)
    size = -(-blocks // max(parts, 1)) * BLOCK
    return [(start, min(start + size, samples)) for start in range(0, samples, size)]


def sample_part(
    model: Model,
    request: Request,
    start: int,
    stop: int,
    *,
    budget: Budget | None = None,
    progress: Progress | None = None,
) -> Block:
    """Return the samples start..stop-1 of the run that `request` asks for; raises as `quantify` does.

    A tree too large for an exact solution raises LimitReached: there is nothing to sample then.
    """
    watch = Watch(budget or Budget())
    if progress is not None:
        watch.progress = progress
    run = prepare_run(model, request, watch)
    solution = solve(run.netlist, watch)
    asked, found = run.request, []
    for here in range(start, stop, BLOCK):
        watch.say("Sampling parameters", (here - start) / (stop - start))
        sampling = Sampling(asked.samples, asked.seed, asked.sampling, here, min(here + BLOCK, stop))
        found.append(sample_block(solution, run.table, asked.mission_time, sampling))
    return Block(
        start,
        stop,
        np.concatenate([block.tops for block in found]),
        found[0].sources,
        np.concatenate([block.drawn for block in found]),
        sum(block.clipped for block in found),
    )


def put_together(model: Model, request: Request, answer: Quantification, blocks: Iterable[Block]) -> Quantification:
    """Return the answer with the uncertainty that the parts give, digit for digit as from one piece."""
    run = prepare_run(model, request, Watch())
    uncertainty, clipped = summarise(blocks, request.seed, request.sampling)
    notes: list[str] = []
    note_uncertainty(notes, run.table.is_uncertain, uncertainty, clipped)
    return replace(answer, uncertainty=uncertainty, notes=(*answer.notes, *notes))


def write_block(block: Block) -> bytes:
    """Return a block as bytes that another process can read."""
    sources = json.dumps([[source.owner, source.position] for source in block.sources])
    buffer = io.BytesIO()
    np.savez_compressed(
        buffer,
        tops=block.tops,
        drawn=block.drawn,
        whole=np.array([block.start, block.stop, block.clipped], np.int64),
        sources=np.frombuffer(sources.encode(), np.uint8),
    )
    return buffer.getvalue()


def read_block(data: bytes) -> Block:
    """Return what `write_block` wrote."""
    with np.load(io.BytesIO(data), allow_pickle=False) as parts:
        start, stop, clipped = (int(value) for value in parts["whole"])
        sources = tuple(Source(owner, position) for owner, position in json.loads(parts["sources"].tobytes()))
        return Block(start, stop, parts["tops"], sources, parts["drawn"], clipped)
