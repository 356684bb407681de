"""All doors of the service, out of the tables."""

from __future__ import annotations

from tests.permissions.api_table import API
from tests.permissions.moves_table import MOVES
from tests.permissions.pages_table import NEW, PAGES, RECORDS
from tests.permissions.tables import Door, read_doors, read_rows


def _read_moves() -> list[Door]:
    """Each move has a form that is shown and sent; who finds the record is every role, if the row says nothing else."""
    found = []
    for address, may, *finds in read_rows(MOVES):
        finders = finds[0] if finds else "every role"
        found += [Door(method, f"/records/{address}", may, finders) for method in ("GET", "POST")]
    return found


PAGE_DOORS = [*read_doors(PAGES), *read_doors(RECORDS), *read_doors(NEW), *_read_moves()]
OPERATIONS = [Door(door.method, f"/api/v1/{door.address}", door.may, door.finds) for door in read_doors(API)]
