"""A real site for a real browser: web server and worker as `make run` starts them, and two trees of ours."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.request import urlopen

import psutil
import pytest

from tests.browser.records import LOAD as RECORDS
from tests.config.processes import ROOT, clean_environment, wait_until
from tests.servers import pick_free_port

CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = [
    *("--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu"),
    *("--disable-background-networking", "--no-first-run"),
]
PASSWORD = "a-password-for-tests"
TREES = Path(__file__).parent / "trees"
LOAD = """
import sys, pathlib, django; django.setup()
from faulttree.services.demo import load_demo
load_demo(folder=pathlib.Path(sys.argv[1]), password=sys.argv[2])
"""
SIZES = {1440: 900, 390: 844}


@dataclass
class Site:
    """Where the pages are."""

    address: str
    environment: dict[str, str]


@pytest.fixture(scope="session")
def site(tmp_path_factory) -> Iterator[Site]:
    """The service with the trees beside this file, in a folder of its own."""
    folder = tmp_path_factory.mktemp("site")
    environment = clean_environment(VAR_DIR=str(folder), DJANGO_SETTINGS_MODULE="config.settings.dev")
    for command in (("migrate", "-v0"), ("collectstatic", "--noinput", "-v0")):
        subprocess.run([sys.executable, "manage.py", *command], cwd=ROOT, env=environment, check=True)
    subprocess.run([sys.executable, "-c", LOAD, str(TREES), PASSWORD], cwd=ROOT, env=environment, check=True)
    port = pick_free_port()
    address = f"http://127.0.0.1:{port}"
    with serving(port, environment):
        wait_until(lambda: answers(f"{address}/login/"), seconds=60)
        yield Site(address, environment)


@contextmanager
def serving(port: int, environment: dict[str, str]) -> Iterator[None]:
    """Run web server and worker until the block ends."""
    running = subprocess.Popen(
        [sys.executable, "manage.py", "serve", "--port", str(port)],
        cwd=ROOT,
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        yield
    finally:
        family = psutil.Process(running.pid).children(recursive=True) if running.poll() is None else []
        running.terminate()
        with suppress(subprocess.TimeoutExpired):
            running.wait(20)
        for each in [*family, running]:
            with suppress(psutil.NoSuchProcess):
                each.kill()


def answers(address: str) -> bool:
    """Tell whether a page comes."""
    try:
        return urlopen(address, timeout=2).status == 200
    except OSError:
        return False


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """One browser for all tests; skips where there's none."""
    if not CHROMIUM.exists():
        pytest.skip(f"no browser at {CHROMIUM}: apt-get install chromium")
    from playwright.sync_api import sync_playwright

    # Playwright's event loop stays in this thread until the last test: Django would take every later use of the
    # database in this process for one from an async context.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def open_page(site, chromium):
    """Opens a page as the engineer; fails in the end if the browser reported what nobody expects."""
    contexts, complaints, expected = [], [], ["status of 422"]

    def start(
        path: str = "/",
        *,
        width: int = 1440,
        scheme: str = "light",
        who: str = "engineer",
        script: bool = True,
        expect: tuple[str, ...] = (),
    ):
        expected.extend(expect)
        context = chromium.new_context(
            viewport={"width": width, "height": SIZES[width]},
            color_scheme=scheme,
            java_script_enabled=script,
            base_url=site.address,
        )
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(15_000)
        page.on("console", lambda said: complaints.append(said.text) if said.type in ("error", "warning") else None)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        log_in(page, path, who)
        return page

    yield start
    for context in contexts:
        context.close()
    unexpected = [said for said in complaints if not any(words in said for words in expected)]
    assert unexpected == []


def log_in(page: Any, path: str, who: str) -> None:
    """Log in and go to a page."""
    page.goto(f"/login/?next={path}")
    page.fill("[name=username]", who)
    page.fill("[name=password]", PASSWORD)
    page.click("main form button")
    page.wait_for_url(lambda url: "/login/" not in url)


@pytest.fixture
def tree_path(open_page):
    """Finds the page of a tree by its title, once its answer is there."""

    def find(page, title: str) -> str:
        page.goto("/trees/")
        page.click(f"text={title}")
        page.wait_for_selector("#answer", timeout=90_000)
        return page.url

    return find


@pytest.fixture(scope="session")
def records(site) -> None:
    """Some anomalies, and people who work on them; whoever adds more depends on this, so that these come first."""
    environment = site.environment | {"PYTHONPATH": str(ROOT)}
    subprocess.run([sys.executable, "-c", RECORDS, PASSWORD], cwd=ROOT, env=environment, check=True)


@pytest.fixture(scope="module")
def demo(tmp_path_factory) -> Iterator[tuple[Site, dict[str, Any]]]:
    """The service with the demonstration, as `make run` loads it, and where its pages are."""
    folder = str(tmp_path_factory.mktemp("demo"))
    settings = {"DJANGO_SETTINGS_MODULE": "config.settings.dev", "DEMO_PASSWORD": PASSWORD}
    environment = clean_environment(VAR_DIR=folder, **settings)
    for command in (("migrate", "-v0"), ("collectstatic", "--noinput", "-v0"), ("load_demo",)):
        subprocess.run([sys.executable, "manage.py", *command], cwd=ROOT, env=environment, check=True)
    command = [sys.executable, "-m", "tests.browser.demo_places", PASSWORD]
    done = subprocess.run(command, cwd=ROOT, env=environment, check=True, capture_output=True, text=True)
    port = pick_free_port()
    address = f"http://127.0.0.1:{port}"
    with serving(port, environment):
        wait_until(lambda: answers(f"{address}/login/"), seconds=60)
        yield Site(address, environment), json.loads(done.stdout.splitlines()[-1])


@pytest.fixture
def enter(demo, chromium):
    """Opens a page of the demonstration as somebody; fails in the end if the browser complained."""
    site, _ = demo
    contexts, complaints = [], []

    def start(who: str, path: str, width: int = 1440) -> Any:
        size = {"width": width, "height": SIZES[width]}
        context = chromium.new_context(viewport=size, base_url=site.address)
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(20_000)
        page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
        log_in(page, path, who)
        return page

    yield start
    for context in contexts:
        context.close()
    assert [said for said in complaints if "status of 409" not in said] == []  # what comes too early
