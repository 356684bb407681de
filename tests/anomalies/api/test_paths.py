"""Addresses that no database would look up: there is nothing there, and nothing breaks."""

from __future__ import annotations

import pytest

from tests.anomalies.people import safety_engineer
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db
PAST_THE_LAST = 2**63
PATHS = [
    "/api/v1/anomalies/%00/",
    "/api/v1/actions/a%00b/history/",
    "/api/v1/procedures/%00/revisions/1/",
    f"/api/v1/procedures/P-001/revisions/{PAST_THE_LAST}/",
    f"/api/v1/causes/{PAST_THE_LAST}/",
    f"/api/v1/records/anomaly/{PAST_THE_LAST}/history/",
    f"/api/v1/trees/{PAST_THE_LAST}/revisions/",
    f"/api/v1/trees/{PAST_THE_LAST}/revisions/1/runs/",
    f"/api/v1/runs/{10**400}/",
    "/log/%00/",
    f"/trees/{PAST_THE_LAST}/",
]


@pytest.mark.parametrize("path", PATHS)
def test_there_is_nothing(path):
    assert log_in(safety_engineer()).get(path).status_code == 404
