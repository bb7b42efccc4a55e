"""XML elements in one line each, and text that XML 1.0 can hold."""

from __future__ import annotations

import re
from xml.etree.ElementTree import Element

_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def plain_text(text: str) -> str:
    """The text without characters that XML 1.0 (section 2.2) has not."""
    return _NOT_XML.sub("", text)


def node(tag: str, *inside: Element | str | int | None, **attributes: str) -> Element:
    """An element with its children or its text; None is left out, and `_` in a name of an attribute means `-`."""
    made = Element(tag, {name.strip("_").replace("_", "-"): plain_text(value) for name, value in attributes.items()})
    for item in inside:
        if isinstance(item, Element):
            made.append(item)
        elif item is not None:
            made.text = plain_text(str(item))
    return made
