"""The frame of all pages: log-in, colours, refusals, what a browser may do."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.auth.models import User
from django.template.loader import render_to_string
from django.test import Client

ROOT = Path(settings.BASE_DIR) if hasattr(settings, "BASE_DIR") else Path(__file__).resolve().parents[2]


@pytest.fixture
def ann(db):
    return User.objects.create_user("ann", password="a-long-password")


def test_logging_in_and_out(client, ann):
    page = client.get("/login/").content.decode()
    assert 'autocomplete="current-password"' in page
    assert client.post("/login/", {"username": "ann", "password": "wrong"}).status_code == 200
    answer = client.post("/login/", {"username": "ann", "password": "a-long-password", "next": "/trees/import/"})
    assert answer.headers["Location"] == "/trees/import/"
    assert client.post("/logout/").headers["Location"] == "/login/"


def test_the_log_in_leads_to_no_other_site(client, ann):
    sent = {"username": "ann", "password": "a-long-password", "next": "https://example.com/"}
    assert client.post("/login/", sent).headers["Location"] == "/"


def test_colours_are_kept_in_a_cookie_and_written_into_the_page(client, db):
    assert 'data-theme="auto"' in client.get("/login/").content.decode()
    answer = client.post("/theme/", {"theme": "dark", "next": "/login/?a=1"})
    assert answer.headers["Location"] == "/login/?a=1"
    page = client.get("/login/").content.decode()
    assert 'data-theme="dark"' in page
    assert re.search(r'value="dark" aria-pressed="true"', page)


@pytest.mark.parametrize("back", ["https://example.com/", "//example.com", "javascript:alert(1)", ""])
def test_choosing_colours_leads_to_no_other_site(client, db, back):
    assert client.post("/theme/", {"theme": "dark", "next": back}).headers["Location"] == "/"


def test_colours_that_are_not_there_are_ignored(client, db):
    client.post("/theme/", {"theme": '"><script>'})
    assert "theme" not in client.cookies
    client.cookies["theme"] = '"><script>'
    assert 'data-theme="auto"' in client.get("/login/").content.decode()


def test_pages_allow_no_inline_script_or_style(client, db):
    policy = client.get("/login/").headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy


def test_no_template_holds_an_inline_script_or_style():
    found = [
        f"{path}: {match.group()}"
        for folder in ("config/templates", "faulttree/templates", "anomalies/templates")
        for path in (ROOT / folder).rglob("*.html")
        if path.parent.name != "paper"  # printed by the server, never sent to a browser
        for match in re.finditer(r"<style|\sstyle=|<script(?![^>]*\ssrc=)|\son\w+=", path.read_text())
    ]
    assert found == []


def test_raw_colours_are_in_the_tokens_only():
    sheets = [sheet for app in ("config", "faulttree", "anomalies") for sheet in ROOT.glob(f"{app}/static/*/*.css")]
    assert "records.css" in {sheet.name for sheet in sheets}
    found = [
        f"{path.name}: {colour}"
        for path in sheets
        if path.name != "tokens.css"
        for colour in re.findall(r"#[0-9a-f]{3,8}\b|rgb\(|hsl\(", path.read_text())
    ]
    assert found == []


def test_a_page_that_is_not_there(client, ann):
    client.force_login(ann)
    answer = client.get("/nothing/")
    assert answer.status_code == 404
    assert "There is nothing here" in answer.content.decode()


def test_a_form_without_its_token(ann):
    client = Client(enforce_csrf_checks=True)
    client.force_login(ann)
    answer = client.post("/trees/import/", {})
    assert answer.status_code == 403
    assert "The form has expired" in answer.content.decode()


def test_the_page_for_our_own_errors_needs_nothing():
    page = render_to_string("500.html")
    assert "Something broke" in page
    assert "tokens.css" in page
