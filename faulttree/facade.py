"""What other apps may ask of fault trees; the only module of this app they import."""

from __future__ import annotations

from config.kit.permissions import Actor
from faulttree.bridge import read_current
from faulttree.charts.waterfall import draw_waterfall
from faulttree.engine.diagnosis.diagnose import Explanation, Moved, Posterior
from faulttree.engine.diagnosis.inspections import Inspection as InspectionAsked
from faulttree.engine.diagnosis.inspections import Worth
from faulttree.engine.diagnosis.pieces import Piece, find_test_ratio
from faulttree.engine.effects.choose import Choice
from faulttree.engine.effects.figures import Figure
from faulttree.engine.effects.kinds import Effect, EffectKind, Limits, Option
from faulttree.engine.effects.weigh import Weighed
from faulttree.engine.errors import BadModel
from faulttree.engine.growth.control import Chart, Signal, make_u_chart
from faulttree.engine.growth.control import Point as ChartPoint
from faulttree.engine.growth.fit import Fit, check_fit
from faulttree.engine.growth.laplace import Laplace, find_trend
from faulttree.engine.growth.power_law import Growth, fit_power_law
from faulttree.engine.growth.record import Record as GrowthRecord
from faulttree.engine.growth.record import Truncation, make_record
from faulttree.engine.growth.waiting import Waiting, estimate_waiting
from faulttree.engine.learning.common_cause import GroupFactors, estimate_factors
from faulttree.engine.learning.rates import (
    Comparison,
    compare_rates,
    exposure_for_improvement,
    lower_probability,
    lower_rate,
    upper_probability,
    upper_rate,
)
from faulttree.engine.learning.through_tree import Inference
from faulttree.engine.learning.update import Updated
from faulttree.engine.report import CAUTION
from faulttree.models import Tree, TreeRevision
from faulttree.models.tree import TreeQuerySet
from faulttree.reads.changes import read_change
from faulttree.reads.diagnosis import NoPosterior, read_posterior, read_worth
from faulttree.reads.effects import NoBenefit, Target, check_effect, list_targets, read_benefit, read_choice
from faulttree.reads.learning import (
    SharedNow,
    check_unit,
    draw_learnt,
    find_moved,
    find_quantity,
    learn_through,
    list_shared,
    make_prior,
    make_update,
    read_shared,
    read_update,
    say_expression,
    take_value,
    write_update,
)
from faulttree.reads.papers import PaperPage, draw_sheets
from faulttree.reads.parts import Part, Parts, read_parts
from faulttree.services.baseline import adopt_effects
from faulttree.services.copies import copy_tree
from faulttree.services.demo import load_demo
from faulttree.services.people import DemoUser, ensure_demo_users

__all__ = [
    "CAUTION",
    "BadModel",
    "Chart",
    "ChartPoint",
    "Choice",
    "Comparison",
    "DemoUser",
    "Effect",
    "EffectKind",
    "Explanation",
    "Figure",
    "Fit",
    "GroupFactors",
    "Growth",
    "GrowthRecord",
    "Inference",
    "InspectionAsked",
    "Laplace",
    "Limits",
    "Moved",
    "NoBenefit",
    "NoPosterior",
    "Option",
    "PaperPage",
    "Part",
    "Parts",
    "Piece",
    "Posterior",
    "SharedNow",
    "Signal",
    "Target",
    "TreeRevision",
    "Truncation",
    "Updated",
    "Waiting",
    "Weighed",
    "Worth",
    "adopt_effects",
    "check_effect",
    "check_fit",
    "check_unit",
    "compare_rates",
    "copy_tree",
    "describe_difference",
    "draw_learnt",
    "draw_sheets",
    "draw_waterfall",
    "estimate_factors",
    "estimate_waiting",
    "exposure_for_improvement",
    "find_moved",
    "find_newest",
    "find_quantity",
    "find_revision",
    "find_test_ratio",
    "find_trend",
    "fit_power_law",
    "learn_through",
    "list_originals",
    "list_shared",
    "list_targets",
    "list_trees",
    "load_demo_people",
    "load_demo_trees",
    "lower_probability",
    "lower_rate",
    "make_prior",
    "make_record",
    "make_u_chart",
    "make_update",
    "read_benefit",
    "read_choice",
    "read_parts",
    "read_posterior",
    "read_shared",
    "read_update",
    "read_worth",
    "say_expression",
    "search_trees",
    "take_value",
    "tree_has_event",
    "upper_probability",
    "upper_rate",
    "write_update",
]


def tree_has_event(tree_id: int, code: str) -> bool:
    """Tell whether the newest revision of the tree has a basic event of this name."""
    newest = TreeRevision.objects.filter(tree_id=tree_id).order_by("-number").first()
    return newest is not None and code in read_current(newest).basic_events


def find_revision(revision_id: int) -> TreeRevision | None:
    """Return a revision without its source; None if there is none of this key."""
    return TreeRevision.objects.without_source().select_related("tree").filter(pk=revision_id).first()


def find_newest(tree_id: int) -> TreeRevision | None:
    """Return the newest revision of a tree without its source; None if there is no such tree."""
    rows = TreeRevision.objects.without_source().select_related("tree")
    return rows.filter(tree_id=tree_id).order_by("-number").first()


def describe_difference(before: TreeRevision, after: TreeRevision) -> list[str]:
    """Return what is different in one revision against another, in sentences; also of different trees."""
    return [str(difference["words"]) for difference in read_change(before, after)["changes"]]


def list_originals() -> TreeQuerySet:
    """Return the trees that aren't copies, by name, for a choice in a form."""
    return list_trees().filter(origin=None)


def list_trees() -> TreeQuerySet:
    """Return all trees, by name, for a choice in a form."""
    return Tree.objects.order_by("name")


def search_trees(actor: Actor, words: str) -> TreeQuerySet:
    """Return the trees that the actor may see and whose name or title holds every word, by name."""
    return Tree.objects.visible_to(actor).matching(words).order_by("name")


def load_demo_people(*, password: str = "", fresh: str = "") -> list[DemoUser]:
    """People of the demonstration who keep its trees are there; passwords as in `load_demo_trees`."""
    return ensure_demo_users(password=password, fresh=fresh)


def load_demo_trees(*, password: str = "", fresh: str = "") -> tuple[list[DemoUser], list[str]]:
    """People and trees of the demonstration are there; returns the people, and the titles of trees that are new.

    password    set for everybody, also for people who were there before
    fresh       set for those who are new, where no `password` is given
    """
    people, added = load_demo(password=password, fresh=fresh)
    return people, [str(revision.tree) for revision in added]
