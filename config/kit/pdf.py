"""PDF files of pages that are made for paper. Nothing is fetched: style and pictures are in the page itself."""

from __future__ import annotations

import logging
from typing import Any, ClassVar, NoReturn

from config.kit.errors import DomainError

PACKAGES = "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz0b fonts-dejavu-core"
NO_LIBRARY = (
    "This machine can't make PDF files: a library that sets text is missing. Whoever runs the service installs it "
    f"with: apt-get install {PACKAGES}. Every figure is in the other files of the Export menu."
)


class NoPrinter(DomainError):
    """The machine lacks what makes PDF files."""

    status: ClassVar[int] = 503
    default_code = "no_pdf_library"


def print_pdf(page: str) -> bytes:
    """Return a page of HTML as tagged PDF; raises NoPrinter where a library of the system is missing."""
    return bytes(_load().HTML(string=page, url_fetcher=_refuse).write_pdf(pdf_variant="pdf/ua-1"))


def _load() -> Any:
    """Import the printer when it is needed: it takes half a second, and fails where its libraries aren't there."""
    try:
        import weasyprint
    except OSError:
        raise NoPrinter(NO_LIBRARY) from None
    logging.getLogger("weasyprint").setLevel(logging.ERROR)  # it reports each step of each page
    logging.getLogger("weasyprint.progress").setLevel(logging.ERROR)
    return weasyprint


def _refuse(url: str, *args: Any, **kwargs: Any) -> NoReturn:
    raise ValueError(f"A page for paper may not fetch {url[:80]}.")
