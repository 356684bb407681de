"""The figures of what corrective actions bring: before, with one alone, with all together, without one."""

from __future__ import annotations

from anomalies.reads.benefit import ActionRow, BenefitView
from anomalies.web.explained import Explained, Input, explained
from config.kit.figures import write_plain
from faulttree.facade import Figure

ASSUMED = (
    "The tree is complete, and its numbers apply to the next time; what is known of this occurrence isn't counted.",
    "Each action does what its stated effects say, no more and no less.",
    "Basic events, barriers included, are independent of each other but for common-cause groups.",
)
EXACT = "Exact probability on the decision diagram of the tree with the effects in place; recomputed, never added up."


@explained("benefit", "before")
def explain_before(view: BenefitView, of: str) -> Explained | None:
    """The top event as it is."""
    if view.weighed is None:
        return None
    figure = view.weighed.before
    meaning = "The probability of the top event with no action in place."
    return _explain(view, "Top event before", meaning, figure, (f"P({view.investigation.top})",), ())


@explained("benefit", "together")
def explain_together(view: BenefitView, of: str) -> Explained | None:
    """The top event with all actions."""
    if view.weighed is None or view.weighed.together is None:
        return None
    formula = (
        f"P({view.investigation.top}) in the tree with all effects below at once",
        "On one event: replaced, another test interval, factors, detection and barriers, in turn; ruled out wins.",
    )
    meaning = "The probability of the top event with every action in place. Effects on the same failures overlap."
    return _explain(view, "Top event with all together", meaning, view.weighed.together, formula, view.rows)


@explained("benefit", "alone")
def explain_alone(view: BenefitView, of: str) -> Explained | None:
    """The top event with one action."""
    row = _find(view, of)
    if row is None or row.alone is None:
        return None
    formula = (f"P({view.investigation.top}) in the tree with the effects of {of} and no others",)
    meaning = "The probability of the top event with this action in place and no other."
    return _explain(view, f"Top event with {of} alone", meaning, row.alone, formula, (row,))


@explained("benefit", "without")
def explain_without(view: BenefitView, of: str) -> Explained | None:
    """What is lost without one action."""
    row = _find(view, of)
    if row is None or row.worth is None or view.weighed is None or view.weighed.together is None:
        return None
    without = view.weighed.without[of]
    if without is None:
        return None
    together = view.weighed.together.probability
    formula = (
        f"P(top | all but {of}) − P(top | all)",
        f"= {write_plain(without.probability, 6)} − {write_plain(together, 6)} = {write_plain(row.worth, 4)}",
    )
    meaning = "How much more probable the top event would be if this action alone were left out, all others in place."
    return Explained(
        f"Lost without {of}",
        write_plain(row.worth, 4),
        meaning,
        formula,
        (*_base(view), *_effects(view.rows)),
        ASSUMED,
        EXACT,
    )


def _explain(
    view: BenefitView,
    title: str,
    meaning: str,
    figure: Figure,
    formula: tuple[str, ...],
    rows: list[ActionRow] | tuple[ActionRow, ...],
) -> Explained:
    value = write_plain(figure.probability, 6)
    lines = [*formula, f"= {value}"]
    assumptions = list(ASSUMED)
    if figure.p05 is not None and figure.p95 is not None:
        lines.append(f"5 % to 95 %: {write_plain(figure.p05, 3)} to {write_plain(figure.p95, 3)}")
        assumptions.append(
            "The figure takes uncertain parameters at their mean; the range is of 1,000 samples of them, with the same "
            "draws for every figure of the page, and has the error of sampling."
        )
    return Explained(title, value, meaning, tuple(lines), (*_base(view), *_effects(rows)), tuple(assumptions), EXACT)


def _find(view: BenefitView, of: str) -> ActionRow | None:
    return next((row for row in view.rows if row.action.number == of), None)


def _base(view: BenefitView) -> tuple[Input, ...]:
    investigation = view.investigation
    revision, hours = investigation.revision, investigation.mission_time
    tree = Input("tree", f"{revision.tree.name}, revision {revision.number}", "in use", revision.get_absolute_url())
    before = view.weighed.before.probability if view.weighed else None
    given = (tree,) if hours is None else (tree, Input("mission time", f"{hours:g} h"))
    return given if before is None else (*given, Input("before", write_plain(before, 6), "the tree as it is"))


def _effects(rows: list[ActionRow] | tuple[ActionRow, ...]) -> tuple[Input, ...]:
    return tuple(
        Input(row.action.number, each, row.action.title, row.action.get_absolute_url())
        for row in rows
        for each in row.effects
    )
