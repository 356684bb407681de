"""Tasks only these tests know, run by real workers."""

from __future__ import annotations

from pathlib import Path

from celery import shared_task


@shared_task(name="tests.echo")
def echo(path: str, text: str) -> None:
    """Write the text to the file."""
    Path(path).write_text(text)
