"""Take the pictures of README.md from the running service:  python -m tests.browser.take_pictures

They lie in fixtures/pictures/ and are taken again whenever the pages change.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from typing import Any

from playwright.sync_api import sync_playwright

from tests.browser.conftest import ARGUMENTS, CHROMIUM, PASSWORD, answers, serving
from tests.config.processes import ROOT, clean_environment, wait_until
from tests.servers import pick_free_port

OUT = ROOT / "fixtures" / "pictures"
TREE = "Loss of suit cooling"
ANOMALY = "wept"


def main() -> None:
    """Serve the demonstration from a folder of its own and visit it as the engineer."""
    OUT.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        settings = {"DJANGO_SETTINGS_MODULE": "config.settings.dev", "DEMO_PASSWORD": PASSWORD}
        environment = clean_environment(VAR_DIR=folder, **settings)
        for command in (("migrate", "-v0"), ("collectstatic", "--noinput", "-v0"), ("load_demo",)):
            subprocess.run([sys.executable, "manage.py", *command], cwd=ROOT, env=environment, check=True)
        port = pick_free_port()
        with serving(port, environment), sync_playwright() as playwright:
            address = f"http://127.0.0.1:{port}"
            wait_until(lambda: answers(f"{address}/login/"), seconds=60)
            browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
            _visit(browser, address)
            browser.close()


def _visit(browser: Any, address: str) -> None:
    page = _log_in(browser, address, 1440, 900)
    page.goto("/")
    page.screenshot(path=OUT / "now.png")
    page.goto(f"/log/?words={ANOMALY}")
    page.click("main table a[href^='/log/A-'] >> nth=0")
    page.wait_for_load_state()
    page.screenshot(path=OUT / "dossier.png")
    page.goto("/readiness/")
    page.click("main a:has-text('Sortie 7')")
    page.wait_for_load_state()
    page.screenshot(path=OUT / "readiness.png")
    page.goto("/trees/")
    page.click(f"text={TREE}")
    page.wait_for_selector("#answer", timeout=90_000)
    page.wait_for_timeout(500)
    page.screenshot(path=OUT / "tree.png")
    page.fill("[name=samples]", "5000")
    page.fill("[name=time_start]", "0")
    page.fill("[name=time_stop]", "8")
    page.fill("[name=time_step]", "0.25")
    page.click("form button:has-text('Compute')")
    page.wait_for_selector("#uncertainty svg", timeout=90_000)
    page.locator("#uncertainty").scroll_into_view_if_needed()
    page.wait_for_timeout(300)
    page.locator("#uncertainty").screenshot(path=OUT / "uncertainty.png")
    page.locator("#cut-sets").screenshot(path=OUT / "cut-sets.png")
    phone = _log_in(browser, address, 390, 844)
    phone.click(f"text={TREE}")
    phone.wait_for_selector("#answer", timeout=90_000)
    phone.screenshot(path=OUT / "phone.png")


def _log_in(browser: Any, address: str, width: int, height: int) -> Any:
    context = browser.new_context(viewport={"width": width, "height": height}, base_url=address)
    page = context.new_page()
    page.goto("/login/")
    page.fill("[name=username]", "engineer")
    page.fill("[name=password]", PASSWORD)
    page.click("main form button")
    page.goto("/trees/")
    return page


if __name__ == "__main__":
    main()
