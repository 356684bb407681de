"""Writes SVG elements: text is escaped, and there is never a script or a style attribute in them."""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr


def element(name: str, *content: str, **attributes: object) -> str:
    """Return an element around content that is markup already.

    `class_` writes class, `stroke_width` writes stroke-width; None leaves an attribute out; floats are rounded.
    """
    written = "".join(
        f" {key.rstrip('_').replace('_', '-')}={quoteattr(_value(value))}"
        for key, value in attributes.items()
        if value is not None
    )
    return f"<{name}{written}>{''.join(content)}</{name}>" if content else f"<{name}{written}/>"


def text(words: str, **attributes: object) -> str:
    """Return a text element; the words are escaped."""
    return element("text", escape(words), **attributes)


def title(words: str) -> str:
    """Return a tooltip."""
    return element("title", escape(words))


def _value(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.2f}".rstrip("0").rstrip(".")
    return str(value)


def escape_text(words: str) -> str:
    """Return words as the content of an element."""
    return escape(words)
