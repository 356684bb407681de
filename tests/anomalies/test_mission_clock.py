"""The mission clock."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest
from django.core.exceptions import ImproperlyConfigured
from hypothesis import given
from hypothesis import strategies as st

from anomalies.mission_clock import read_mission_time, write_mission_time
from anomalies.models import Anomaly
from config.env import read_moment
from config.kit.errors import BadInput

EPOCH = datetime(2024, 2, 27, 6, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("at", "shown"),
    [
        (EPOCH, "T+000/00:00:00"),
        (EPOCH + timedelta(days=12, hours=4, minutes=33, seconds=10.9), "T+012/04:33:10"),
        (datetime(2024, 3, 1, 6, 0, tzinfo=UTC), "T+003/00:00:00"),  # 2024 has a 29 February
        (EPOCH - timedelta(seconds=1), "T-000/00:00:01"),
        ((EPOCH + timedelta(hours=1)).astimezone(timezone(timedelta(hours=-7))), "T+000/01:00:00"),
        (EPOCH + timedelta(days=1234), "T+1234/00:00:00"),
    ],
)
def test_a_moment_is_shown_as_days_hours_minutes_seconds(at, shown):
    assert write_mission_time(at, EPOCH) == shown


@given(st.integers(-(10**8), 10**8))
def test_what_is_shown_is_read_back(seconds):
    at = EPOCH + timedelta(seconds=seconds)
    assert read_mission_time(write_mission_time(at, EPOCH), EPOCH) == at


def test_sign_and_seconds_may_be_left_out():
    assert read_mission_time(" 3/4:05 ", EPOCH) == EPOCH + timedelta(days=3, hours=4, minutes=5)


@pytest.mark.parametrize("text", ["", "12", "T+1/24:00:00", "1/00:60", "1/00:00:60", "+-1/00:00", "99999999/00:00"])
def test_what_is_no_mission_time_is_refused(text):
    with pytest.raises(BadInput, match="mission time"):
        read_mission_time(text, EPOCH)


def test_a_time_outside_the_calendar_is_refused():
    with pytest.raises(BadInput, match="calendar"):
        read_mission_time("-99999/00:00", datetime(2, 1, 1, tzinfo=UTC))


def test_an_anomaly_shows_the_clock_of_the_installation(settings):
    anomaly = Anomaly(occurred_at=EPOCH + timedelta(hours=30))
    settings.MISSION_EPOCH = EPOCH
    assert anomaly.mission_time == "T+001/06:00:00"
    settings.MISSION_EPOCH = None
    assert anomaly.mission_time == ""


def test_the_epoch_is_read_with_its_zone_or_not_at_all():
    assert read_moment("2024-02-27T06:00:00Z") == EPOCH
    assert read_moment("") is None
    with pytest.raises(ImproperlyConfigured, match="time zone"):
        read_moment("2024-02-27T06:00:00")
    with pytest.raises(ValueError, match="isoformat"):
        read_moment("tomorrow")
