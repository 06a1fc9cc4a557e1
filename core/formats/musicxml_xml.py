"""Short ways to build XML elements."""

from __future__ import annotations

import re
from collections.abc import Mapping

from lxml import etree

Element = etree._Element

_FORBIDDEN = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def clean(text: str) -> str:
    """Text without the characters XML 1.0 cannot hold."""
    return _FORBIDDEN.sub("\N{REPLACEMENT CHARACTER}", text)


def child(parent: Element, tag: str, attributes: Mapping[str, str] | None = None) -> Element:
    """A new last child."""
    return etree.SubElement(parent, tag, dict(attributes or {}))


def leaf(parent: Element, tag: str, content: str, /, **attributes: str) -> Element:
    """A new last child that holds text."""
    element = etree.SubElement(parent, tag, {k: clean(v) for k, v in attributes.items()})
    element.text = clean(content)
    return element
