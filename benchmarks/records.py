"""Pages of the records with many anomalies:  python -m benchmarks.records [--anomalies 100000]

On SQLite and on a PostgreSQL of its own: queries and time per page, of the log (first page, deep page, filtered,
searched), of the search and of a dossier. The time is that of the whole request, template included, in this process.

The anomalies are written in bulk, past the services and without entries in the ledger: only reading is measured. One of
them has a real dossier, made through the services.
"""

from __future__ import annotations

import argparse
import random
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

from benchmarks.databases import make_tables, measure_all, run_on_both

SEED = 20310405
CHUNK = 2_000
THINGS = [
    "umbilical",
    "glove",
    "pump",
    "reel",
    "sensor",
    "battery",
    "coupling",
    "display",
    "valve",
    "radiator",
    "hatch",
    "camera",
    "lamp",
    "tether",
    "hose",
]
TROUBLES = [
    "leaks",
    "sticks",
    "drifts",
    "trips",
    "swells",
    "frosts",
    "flickers",
    "wears",
    "slips",
    "hums",
    "jams",
    "fades",
]
PLACES = ["airlock", "port-1", "port-2", "suit-bay", "radiator-1", "radiator-2", "cabin", "crib"]


def main() -> None:
    """Measure on both databases, each in a process of its own."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--anomalies", type=int, default=100_000)
    parser.add_argument("--here", action="store_true", help="measure on DATABASE_URL, in this process")
    wanted = parser.parse_args()
    if wanted.here:
        measure(wanted.anomalies)
        return
    run_on_both("benchmarks.records", "--anomalies", str(wanted.anomalies))


def measure(count: int) -> None:
    """Fill the database and print a line per page."""
    make_tables()
    from django.db import connection
    from django.test import Client

    person, number = make_dossier()
    began = time.perf_counter()
    fill(count, person)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    print(f"{count:,} anomalies and their search texts written in {time.perf_counter() - began:.0f} s")
    client = Client()
    client.force_login(person)
    last = max(count // 50, 1)
    pages = {
        "log, first page": "/log/",
        f"log, page {last // 2:,}": f"/log/?page={last // 2}",
        f"log, page {last:,}": f"/log/?page={last}",
        "log, gravest risk first": "/log/?sort=risk",
        "log, risk and state": "/log/?risk=serious&state=open",
        "log, one year": "/log/?year=2028",
        "log, frequent words": "/log/?words=umbilical+leaks",
        "log, one number": "/log/?words=A-2028-0777",
        "log, what holds work to come": "/log/?holds=1",
        "search, frequent words": "/search/?words=umbilical+leaks",
        "search, one serial": "/search/?words=SN-00017",
        "dossier": f"/log/{number}/",
        "now": "/",
        "trends": "/trends/",
        "trends, split by system": "/trends/?split=system",
        "API, first page": "/api/v1/anomalies/",
        f"API, page {last // 2:,}": f"/api/v1/anomalies/?page={last // 2}",
        f"API, page {last:,}": f"/api/v1/anomalies/?page={last}",
        "API, risk and state": "/api/v1/anomalies/?risk=serious&state=open",
        "API, frequent words": "/api/v1/anomalies/?words=umbilical+leaks",
        "API, what holds work to come": "/api/v1/anomalies/?holds=true",
    }
    measure_all({name: _get(client, path) for name, path in pages.items()})


def _get(client: Any, path: str) -> Callable[[], Any]:
    """Return what asks for the page."""

    def ask() -> Any:
        answer = client.get(path)
        assert answer.status_code == 200, (path, answer.status_code)
        return answer

    return ask


def make_dossier() -> tuple[Any, str]:
    """Make one anomaly with all that a dossier can hold; returns a safety engineer and its number."""
    from tests.anomalies.actions import make_proposed, make_verified
    from tests.anomalies.files import make_evidence
    from tests.anomalies.investigation import make_adopted, make_cause, make_confirmed, make_finding
    from tests.anomalies.people import make_constraint, make_item, make_open, safety_engineer

    anomaly = make_open(title="Coolant wept at the quick disconnect", hardware_ids=[make_item("SN-00017").pk])
    make_constraint(anomaly)
    make_adopted(anomaly)
    for _ in range(8):
        make_evidence(anomaly)
        make_finding(anomaly)
        make_cause(anomaly)
    for _ in range(4):
        make_verified(make_confirmed(anomaly))
        make_proposed(make_confirmed(anomaly))
    return safety_engineer(), str(anomaly.number)


def fill(count: int, person: Any) -> None:
    """Write the anomalies, their numbers and their search texts."""
    from anomalies.models import Anomaly, SearchText

    chunk: list[Any] = []
    for anomaly in invent(count, person):
        chunk.append(anomaly)
        if len(chunk) == CHUNK:
            write(Anomaly, SearchText, chunk)
            chunk = []
    write(Anomaly, SearchText, chunk)


def write(anomaly_model: Any, text_model: Any, rows: list[Any]) -> None:
    """Write one chunk of anomalies, and their texts as the services would."""
    made = anomaly_model._base_manager.bulk_create(rows)
    text_model.objects.bulk_create(
        text_model(
            kind="anomaly", record_id=row.pk, anomaly_id=row.pk, codes=row.number, title=row.title, body=row.description
        )
        for row in made
    )


def invent(count: int, person: Any) -> Iterator[Any]:
    """Yield anomalies over ten years, in all states, the same ones each time."""
    from anomalies.models import Anomaly
    from tests.anomalies.people import SEEN_AT

    pick = random.Random(SEED)  # no secret
    numbers: dict[int, int] = {}
    for place in range(count):
        at = SEEN_AT + timedelta(days=365 + 3650 * place / count)
        numbers[at.year] = numbers.get(at.year, 0) + 1
        thing, trouble = pick.choice(THINGS), pick.choice(TROUBLES)
        state = pick.choices(("reported", "dismissed", "open", "closed"), (5, 10, 15, 70))[0]
        row = Anomaly(
            number=f"A-{at.year}-{numbers[at.year]:04}",
            title=f"The {thing} {trouble} near the {pick.choice(THINGS)}",
            description=" ".join(pick.choice(THINGS + TROUBLES + PLACES) for _ in range(40)),
            occurred_at=at,
            place=pick.choice(PLACES),
            recorded_by=person,
            recorded_at=at,
            reported_at=at,
            state=state,
            version=1,
        )
        if state in ("open", "closed"):
            row.severity, row.probability, row.risk_rationale = pick.randint(1, 4), pick.choice("ABCDE"), "Invented."
            row.lead, row.screened_at = person, at
        if state == "closed":
            row.closed_at, row.closed_by, row.closing_statement = at + timedelta(days=60), person, "Invented."
        yield row


if __name__ == "__main__":
    main()
