"""Who may go to an address that a page offers, by the tables."""

from __future__ import annotations

from anomalies.views.moves import find_model
from tests.permissions.doors import OPERATIONS, PAGE_DOORS
from tests.permissions.pages_table import OPEN_TO_VISITORS
from tests.permissions.people import SIGNED_IN
from tests.permissions.routes import name_route
from tests.permissions.tables import who_may
from tests.permissions.world import World


def find_move_goers(path: str) -> frozenset[str]:
    """Who may make the move of this address, to its record as it is now."""
    _, _, kind, key, name, _ = path.split("/")
    state = getattr(find_model(kind).objects.get(pk=key), "state", "")
    rows = [door for door in PAGE_DOORS if door.address.startswith(f"/records/{kind}/") and f"/{name}/" in door.address]
    row = next((row for row in rows if row.may.endswith(f" @{state}")), rows[-1])
    return row.finders & who_may(row.rule, state)


class Atlas:
    """Who may go where, by the tables; looked up once for each address."""

    def __init__(self, world: World) -> None:
        self.by_route: dict[tuple[str, str], set[str]] = {}
        for door in (*PAGE_DOORS, *OPERATIONS):
            route = name_route(world.fill(door.address))
            self.by_route.setdefault((door.method, route), set()).update(door.goers)
        self.by_address: dict[tuple[str, str], set[str]] = {}

    def find_goers(self, method: str, address: str) -> set[str]:
        """Return who may go there."""
        path = address.partition("?")[0]
        if (method, path) not in self.by_address:
            self.by_address[method, path] = self._find_goers(method, path)
        return self.by_address[method, path]

    def _find_goers(self, method: str, path: str) -> set[str]:
        route = name_route(path)
        if route in OPEN_TO_VISITORS:
            return set(SIGNED_IN)
        if route == "anomalies:new":  # one route for all kinds, each with a rule of its own
            return set(next(door.goers for door in PAGE_DOORS if door.address == path))
        return set(find_move_goers(path)) if route == "anomalies:move" else self.by_route[method, route]
