"""Quantifies a fault tree from an exchange file: cut sets, probability, importance. Needs no database."""

from __future__ import annotations

import json
import signal
import sys
from argparse import RawDescriptionHelpFormatter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandParser

from faulttree.bridge import UnreadableModel, read_source
from faulttree.engine.budget import Budget
from faulttree.engine.errors import BadModel, Cancelled, Problem
from faulttree.engine.report import CAUTION, to_json
from faulttree.engine.request import Request, TimeGrid
from faulttree.engine.results import Quantification
from faulttree.management.progress import ProgressLine
from faulttree.management.summary import summarise

REFUSED, BRACKET, INTERRUPTED = 2, 3, 130
SHOWN_SETS = 10
LISTED_SETS = 100


class Command(BaseCommand):
    """`manage.py quantify`"""

    help = "Quantify a fault tree in Open-PSA exchange XML. " + CAUTION
    epilog = "Exit code: 0 exact answer, 2 input refused, 3 certified bracket, 130 interrupted."
    requires_system_checks = ()

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> CommandParser:
        """Refuse bad options in one line: without the usage before it, which -h shows."""
        parser = super().create_parser(
            prog_name, subcommand, epilog=self.epilog, formatter_class=RawDescriptionHelpFormatter, **kwargs
        )
        parser.print_usage = lambda file=None: None  # type: ignore[method-assign]
        return parser

    def add_arguments(self, parser: CommandParser) -> None:
        """Declare the options."""
        parser.add_argument("model", metavar="MODEL.xml", help="exchange file to read")
        parser.add_argument("--top", metavar="NAME", help="top event; needed when the model has several")
        parser.add_argument("--mission-time", type=float, metavar="H", help="hours")
        parser.add_argument(
            "--list",
            type=int,
            metavar="K",
            help=f"how many of the likeliest cut sets to list (default: {SHOWN_SETS}, with --json {LISTED_SETS})",
        )
        parser.add_argument("--max-order", type=int, metavar="N", help="list cut sets of at most N events")
        parser.add_argument("--min-probability", type=float, default=0.0, metavar="P", help="list only from P up")
        parser.add_argument("--time-grid", metavar="START:STOP:STEP", help="curves over time, hours")
        parser.add_argument("--samples", type=int, default=0, metavar="N", help="samples of an uncertainty run")
        parser.add_argument("--seed", type=int, default=1, metavar="S", help="seed of the samples (default: 1)")
        parser.add_argument(
            "--evidence",
            nargs="+",
            action="extend",
            default=[],
            metavar="NAME=occurred|not-occurred",
            help="what is known of events and gates; gives the posterior of every event",
        )
        parser.add_argument("--node-budget", type=int, metavar="N", help="most diagram nodes alive at once")
        parser.add_argument("--seconds", type=float, metavar="S", help="most seconds; past it a bracket is given")
        parser.add_argument("--json", action="store_true", help="print one JSON object and nothing else")

    def handle(self, *, model: str, **options: Any) -> None:
        """Read, quantify, print; leave with the exit code that fits."""
        try:
            result = self.quantify(model, options)
        except BadModel as refused:
            self.leave(describe_refusal(refused.problems), REFUSED)
        except UnreadableModel as refused:
            self.leave(describe_refusal(refused.problems), REFUSED)
        except Cancelled:
            self.leave("Interrupted; there is no result.", INTERRUPTED)
        if options["json"]:
            self.stdout.write(json.dumps(to_json(result), indent=1, ensure_ascii=False, allow_nan=False))
        else:
            self.stdout.write(summarise(result, file=model, shown_sets=choose_list_count(options)), ending="")
        if result.method != "exact":
            sys.exit(BRACKET)

    def quantify(self, file: str, options: dict[str, Any]) -> Quantification:
        """Return the answer; raises BadModel, UnreadableModel or Cancelled."""
        progress = ProgressLine(sys.stderr)
        try:
            with interruptible() as interrupted:
                from faulttree.engine.quantify import quantify  # its kernels take a moment to load

                request, budget = read_request(options), read_budget(options)
                model = read_source(read_file(file), file=file)
                return quantify(model, request, budget=budget, progress=progress, cancelled=interrupted)
        finally:
            progress.clear()

    def leave(self, message: str, code: int) -> None:
        """Say why in one line on standard error, and end with the code."""
        self.stderr.write(message)
        sys.exit(code)


def describe_refusal(problems: tuple[Problem, ...]) -> str:
    """Return one line: the first problem, how to mend it, and how many more there are."""
    first = " ".join(str(problems[0]).split())
    more = len(problems) - 1
    return first if not more else f"{first} ({more} more problem{'s' if more > 1 else ''} after this one.)"


def read_file(file: str) -> bytes:
    """Return the bytes of the file; raises BadModel when it can't be read or is over the size limit."""
    path = Path(file)
    try:
        if path.stat().st_size > settings.MODEL_MAX_BYTES:
            message = f"The file has {path.stat().st_size:,} bytes; at most {settings.MODEL_MAX_BYTES:,} are read."
            raise BadModel(Problem(message, "Split the model, or raise MODEL_MAX_BYTES.", file=file))
        return path.read_bytes()
    except OSError as error:
        raise BadModel(Problem(f"{error.strerror}.", "Name a file that can be read.", file=file)) from None


def choose_list_count(options: dict[str, Any]) -> int:
    """Return how many cut sets are listed: fewer for people than for programs, unless it was said."""
    if options["list"] is not None:
        return int(options["list"])
    return LISTED_SETS if options["json"] else SHOWN_SETS


def read_request(options: dict[str, Any]) -> Request:
    """Return what is asked for; raises BadModel for an option that can't be read."""
    grid = options["time_grid"]
    return Request(
        top=options["top"],
        mission_time=options["mission_time"],
        list_count=choose_list_count(options),
        max_order=options["max_order"],
        min_probability=options["min_probability"],
        time_grid=read_time_grid(grid) if grid is not None else None,
        samples=options["samples"],
        seed=options["seed"],
        evidence=read_evidence(options["evidence"]),
    )


def read_budget(options: dict[str, Any]) -> Budget:
    """Return the budget: what was asked for, else what the settings allow; raises BadModel."""
    nodes, seconds = options["node_budget"], options["seconds"]
    if nodes is not None and nodes < 1:
        raise BadModel(Problem("The node budget is below 1.", "Give 1 or more.", "--node-budget"))
    if seconds is not None and not seconds > 0.0:
        raise BadModel(Problem("The time allowed is not above 0 s.", "Give more than 0.", "--seconds"))
    return Budget(
        nodes=settings.RUN_NODE_BUDGET if nodes is None else nodes,
        seconds=settings.RUN_SECONDS if seconds is None else seconds,
        memory_mib=settings.RUN_MEMORY_MIB,
    )


def read_time_grid(text: str) -> TimeGrid:
    """Return the grid written as START:STOP:STEP in hours; raises BadModel."""
    try:
        start, stop, step = (float(part) for part in text.split(":"))
    except ValueError:
        problem = Problem(f"{text!r} is not a time grid.", "Write START:STOP:STEP in hours: 0:720:24.", "--time-grid")
        raise BadModel(problem) from None
    return TimeGrid(start, stop, step)


def read_evidence(words: list[str]) -> dict[str, bool]:
    """Return what is known, written as NAME=occurred or NAME=not-occurred; raises BadModel."""
    meanings = {"occurred": True, "not-occurred": False}
    evidence: dict[str, bool] = {}
    for word in words:
        name, _, said = word.rpartition("=")
        if not name or said not in meanings:
            mend = "Write NAME=occurred or NAME=not-occurred."
            raise BadModel(Problem(f"{word!r} is not evidence.", mend, "--evidence"))
        if evidence.setdefault(name, meanings[said]) != meanings[said]:
            raise BadModel(Problem(f"{name} is said to have occurred and not to.", "Say one.", "--evidence"))
    return evidence


@contextmanager
def interruptible() -> Iterator[Callable[[], bool]]:
    """Give a function that tells whether Ctrl-C was pressed; pressed again, it ends the process at once."""
    pressed = False

    def remember(number: int, frame: Any) -> None:
        nonlocal pressed
        pressed = True
        signal.signal(signal.SIGINT, signal.default_int_handler)

    before = signal.signal(signal.SIGINT, remember)
    try:
        yield lambda: pressed
    finally:
        signal.signal(signal.SIGINT, before)
