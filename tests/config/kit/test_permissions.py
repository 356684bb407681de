"""Named rules."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from config.kit import permissions
from config.kit.errors import NotAllowed
from config.kit.permissions import SYSTEM, allows, require, rule


@dataclass
class Person:
    name: str
    is_active: bool = True


@pytest.fixture(autouse=True)
def own_rules(monkeypatch):
    monkeypatch.setattr(permissions, "_rules", {})

    @rule("lamp.switch")
    def may_switch(actor, lamp):
        return actor.name == lamp

    @rule("lamp.sweep", system=True)
    def may_sweep(actor, lamp):
        return False


def test_a_rule_decides_by_actor_and_record():
    require(Person("Ada"), "lamp.switch", "Ada")
    with pytest.raises(NotAllowed, match=r"lamp\.switch"):
        require(Person("Ada"), "lamp.switch", "Bo")


def test_a_rule_nobody_registered_refuses():
    assert not allows(Person("Ada"), "lamp.eat", "Ada")
    assert not allows(SYSTEM, "lamp.eat")


def test_a_closed_account_may_do_nothing():
    assert not allows(Person("Ada", is_active=False), "lamp.switch", "Ada")


def test_the_service_itself_may_do_only_what_says_so():
    assert allows(SYSTEM, "lamp.sweep")
    assert not allows(SYSTEM, "lamp.switch", "system")
    assert not allows(Person("Ada"), "lamp.sweep")


def test_one_name_for_two_rules_is_refused():
    with pytest.raises(ValueError, match="twice"):

        @rule("lamp.switch")
        def may_switch_otherwise(actor, lamp):
            return True


def test_all_names_can_be_listed():
    assert permissions.rule_names() == {"lamp.switch", "lamp.sweep"}
