"""The servers the tests start for themselves."""

from __future__ import annotations

import psycopg
import redis

from tests.servers import accepts, running_redis


def test_postgresql_takes_queries(postgresql_url):
    with psycopg.connect(postgresql_url) as connection:
        assert connection.execute("select 6 * 7").fetchone() == (42,)


def test_redis_keeps_a_value_and_is_gone_afterwards(redis_url):
    with running_redis() as url:
        client = redis.Redis.from_url(url)
        client.set("lamp", "on")
        assert client.get("lamp") == b"on"
        client.close()
        port = int(url.rsplit(":", 1)[1].split("/")[0])
    assert not accepts(port)
