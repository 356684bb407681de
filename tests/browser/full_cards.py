"""Cards that are just full:  python -m tests.browser.full_cards COUNT   prints their addresses as JSON.

They hold words of all lengths, hyphens, groups, warnings and readings under a heading of two lines.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from itertools import islice
from random import Random
from typing import Any

LETTERS = "abcdefghijklmnopqrstuvwxyzWM-"
TITLE = ("Coolant leaks inside the airlock " * 3)[:84].strip()


def make_words(random: Random, least: int) -> str:
    """Some words that say nothing."""
    words = range(random.randint(least, 14))
    return " ".join("".join(random.choices(LETTERS, k=random.randint(1, 12))) for _ in words)


def grow(random: Random) -> tuple[Any, int]:
    """Draft a card and add steps until it is full; returns the revision and its lines."""
    from anomalies.cards import CARD_LINES, count_card_lines, write_heading
    from anomalies.services.revision_steps import insert_revision_notice
    from tests.anomalies import procedures

    card = procedures.make_procedure(kind="card", title=TITLE)
    last = procedures.add_step(procedures.make_drafted(card, "Begin."), "Do all of this.", kind="group")
    parent, heading, lines = last.read_steps()[-1].key, write_heading(card.number, 1, TITLE), 0
    while lines < CARD_LINES:
        more: dict[str, Any] = {"parent": parent} if random.random() < 0.5 else {}
        if random.random() < 0.3:
            more |= {"kind": "check", "reading": {"expected": make_words(random, 2)[:60].strip()}}
        last = procedures.add_step(last, make_words(random, 1), **more)
        if random.random() < 0.3:
            given = {"revision_id": last.pk, "actor": procedures.writer(), "version": last.version}
            key = last.read_steps()[-1].key
            last, _ = insert_revision_notice(**given, step_key=key, kind="warning", text=make_words(random, 3))
        lines = count_card_lines(last.read_steps(), heading)
    return last, lines


def find_full() -> Iterator[str]:
    """Yield addresses of cards that are full to the line."""
    from anomalies.cards import CARD_LINES

    for seed in range(200):
        revision, lines = grow(Random(seed))  # cards, not secrets
        if lines == CARD_LINES:
            yield revision.get_absolute_url()


if __name__ == "__main__":
    import django

    django.setup()
    print(json.dumps(list(islice(find_full(), int(sys.argv[1])))))
