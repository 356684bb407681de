"""What a page offers: where its links lead, and where its forms are sent."""

from __future__ import annotations

from html.parser import HTMLParser
from urllib.parse import urldefrag, urljoin


class Offered(HTMLParser):
    """Collects method and address of everything on the page that can be pressed, of this service alone."""

    def __init__(self, here: str) -> None:
        super().__init__()
        self.here = here
        self.found: set[tuple[str, str]] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Take what leads somewhere."""
        given = {name: value or "" for name, value in attrs}
        if tag == "a" and "href" in given:
            self._take("GET", given["href"])
        if tag == "form":
            self._take(given.get("method", "get").upper(), given.get("action", ""))
        for name, method in (("hx-get", "GET"), ("hx-post", "POST"), ("formaction", "POST")):
            if name in given:
                self._take(method, given[name])

    def _take(self, method: str, address: str) -> None:
        there = urldefrag(urljoin(self.here, address)).url
        if there.startswith("/") and not there.startswith(("//", "/static/")):
            self.found.add((method, there))


def read_offers(page: str, here: str) -> set[tuple[str, str]]:
    """Return method and address of all that the page at `here` offers."""
    parser = Offered(here)
    parser.feed(page)
    return parser.found
