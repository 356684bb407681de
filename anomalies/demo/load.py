"""Loads the demonstration; twice does no harm."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib.auth.models import Group, User
from django.db import transaction
from django.utils.crypto import get_random_string

from anomalies import permissions as roles
from anomalies.clock import now
from anomalies.demo import current, settled
from anomalies.demo.learning import learn
from anomalies.demo.lessons import teach
from anomalies.demo.meetings import meet
from anomalies.demo.readiness import ask_for, review
from anomalies.demo.setting import BEGINNING, plan_next, set_up
from anomalies.demo.stage import Stage, Story, play
from anomalies.models import LedgerEntry
from anomalies.services.people import ensure_roles
from config.kit.ledger import kept_models
from faulttree.facade import load_demo_people, load_demo_trees

PEOPLE = (
    ("ketter", "Bram", "Ketter", roles.RECORDER),
    ("farrant", "Lio", "Farrant", roles.RECORDER),
    ("osk", "Maren", "Osk", roles.ACTIVITY_LEAD),
    ("hollin", "Davit", "Hollin", roles.BOARD_MEMBER),
    ("anselm", "Suri", "Anselm", roles.BOARD_MEMBER),
    ("thorne", "Ravel", "Thorne", roles.ACTION_OWNER),
    ("corvo", "Ines", "Corvo", roles.VERIFIER),
    ("valdis", "Noor", "Valdis", roles.ADMINISTRATOR),
)
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that are taken for each other


@dataclass(frozen=True, slots=True)
class LogIn:
    """Somebody who can log in; `password` is None where one was set before."""

    username: str
    name: str
    role: str
    password: str | None


@dataclass(frozen=True, slots=True)
class Loaded:
    """What was loaded: people, names of new trees, and how many entries the ledger has got."""

    people: tuple[LogIn, ...]
    trees: tuple[str, ...]
    entries: int


def load_demo(*, password: str = "") -> Loaded:
    """People, records and trees of the demonstration are there. Records only if the ledger holds none.

    Trees come last: the records are told as of the past, and the ledger reads in the order of time.
    """
    ensure_roles()
    secret = password or "-".join(get_random_string(5, LETTERS) for _ in range(3))
    others = [_ensure_person(*person, secret, reset=bool(password)) for person in PEOPLE]
    people = load_demo_people(password=password, fresh=secret)
    before = LedgerEntry.objects.count()
    trees: list[str] = []
    if not LedgerEntry.objects.exclude(kind__in=[model.KIND for model in kept_models()]).exists():
        _play(trees)
    trees += load_demo_trees()[1]
    logins = [LogIn(each.username, _name(each.username), each.role, each.password) for each in people]
    return Loaded((*logins, *others), tuple(trees), LedgerEntry.objects.count() - before)


@transaction.atomic
def _play(trees: list[str]) -> None:
    """Play all stories in the order of time, in one transaction: all of them or none; `trees` gets the new ones."""
    stage = Stage({user.username: user for user in User.objects.all()}, now())
    play(
        (
            _bring_trees(stage, trees),
            set_up(stage),
            ask_for(stage),
            settled.suit_display(stage),
            settled.glove(stage),
            settled.pump(stage),
            settled.tether_reel(stage),
            settled.co2_sensor(stage),
            settled.small_ones(stage),
            settled.judge_effective(stage),
            plan_next(stage),
            current.display_again(stage),
            current.coupling(stage),
            current.umbilical(stage),
            learn(stage),
            teach(stage),
            review(stage),
            meet(stage),
        )
    )


def _bring_trees(stage: Stage, trees: list[str]) -> Story:
    """The trees are there before all else: an investigation works on one of them."""
    yield stage.when(BEGINNING - 1)
    trees += load_demo_trees()[1]


def _ensure_person(username: str, first: str, last: str, role: str, secret: str, *, reset: bool) -> LogIn:
    user, is_new = User.objects.get_or_create(username=username, defaults={"first_name": first, "last_name": last})
    if is_new or reset:
        user.set_password(secret)
        user.save(update_fields=["password"])
    user.groups.add(Group.objects.get(name=role))
    return LogIn(username, f"{first} {last}", role, secret if is_new or reset else None)


def _name(username: str) -> str:
    return User.objects.get(username=username).get_full_name()
