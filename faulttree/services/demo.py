"""Loads the demonstration: its people and its trees. Twice does no harm."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.contrib.auth.models import User

from config.env import BASE_DIR
from faulttree.bridge import Request
from faulttree.models import SharedItem, Tree, TreeRevision
from faulttree.services.library import Sent, add_item
from faulttree.services.people import DemoUser, ensure_demo_users
from faulttree.services.runs import DEFAULT_LIST_COUNT, request_default_run, request_run
from faulttree.services.trees import import_tree
from faulttree.services.variants import add_variant

TREES = BASE_DIR / "fixtures" / "trees"
VARIANTS: dict[str, tuple[tuple[str, str, dict[str, Any]], ...]] = {
    "suit-cooling": (
        (
            "Coupling with a double seal",
            "The replacement that the supplier offers weeps at a fifth of the rate.",
            {"parameters": {"rate-coupling": 5e-5}},
        ),
        (
            "Worked free of the umbilical",
            "The suit's own sublimator rejects all heat.",
            {"houses": {"umbilical-in-use": False}},
        ),
    )
}
"""By name of the tree: name, note and overrides of each of its variants."""
LIBRARY = (
    (
        ("parameter", "rate-valve"),
        Sent(
            {"lognormal-deviate": [3e-6, 4, 0.95]},
            "service",
            "Valve log of Corvane Depot, 14 valves over three years (invented).",
            "Small water or gas valve seizes, per hour",
            "hours-1",
        ),
    ),
    (
        ("parameter", "rate-valve-propellant"),
        Sent(
            {"lognormal-deviate": [5e-6, 4, 0.95]},
            "test",
            "Cycling test of isolation valves with propellant residue, report CD-T-031 (invented).",
            "Propellant isolation valve seizes, per hour",
            "hours-1",
        ),
    ),
    (
        ("parameter", "rate-coupling"),
        Sent(
            {"lognormal-deviate": [2.5e-4, 5, 0.95]},
            "judgement",
            "Raised after Sortie 6, agreed by two suit engineers (invented).",
            "Quick disconnect weeps, per hour mated",
            "hours-1",
        ),
    ),
    (
        ("event", "umbilical-severed"),
        Sent(1e-5, "judgement", "Agreed by two suit engineers; none was lost yet (invented).", "Umbilical lost"),
    ),
)
"""Kind, name and first value of each item of the library; the trees hold the same values."""
SORTIE_HOURS = 8.0
"""Mission time of a demonstration tree that needs one: a sortie with its margins."""


def load_demo(
    *, password: str = "", fresh: str = "", folder: Path = TREES
) -> tuple[list[DemoUser], list[TreeRevision]]:
    """Load people and trees, and ask for each new tree's default run; returns people and the trees that are new."""
    people = ensure_demo_users(password=password, fresh=fresh)
    engineer = User.objects.get(username=people[0].username)
    _fill_library(engineer)
    known = set(TreeRevision.objects.filter(number=1).values_list("file_name", flat=True))
    added = []
    for path in sorted(folder.glob("*.xml")):
        if path.name in known or Tree.objects.filter(name=path.stem).exists():
            continue
        revision = import_tree(
            actor=engineer, source=path.read_bytes(), file_name=path.name, note="Loaded with the demonstration."
        )
        if not request_default_run(revision_id=revision.pk, actor=engineer) and len(revision.tops) == 1:
            request = Request(mission_time=SORTIE_HOURS, list_count=DEFAULT_LIST_COUNT)
            request_run(revision_id=revision.pk, actor=engineer, request=request)
        _add_variants(revision, engineer)
        added.append(revision)
    return people, added


def _fill_library(engineer: User) -> None:
    known = set(SharedItem.objects.values_list("kind", "name"))
    for (kind, name), sent in LIBRARY:
        if (kind, name) not in known:
            add_item(actor=engineer, kind=kind, name=name, sent=sent, note="Loaded with the demonstration.")


def _add_variants(revision: TreeRevision, engineer: User) -> None:
    for name, note, overrides in VARIANTS.get(revision.tree.name, ()):
        add_variant(tree_id=revision.tree_id, actor=engineer, name=name, note=note, overrides=overrides)
