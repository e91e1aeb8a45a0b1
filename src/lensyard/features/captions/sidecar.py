"""XMP sidecars (ISO 16684-1): a caption merged into what a photograph's sidecar says already.

A sidecar lies beside its photograph and has its name with ``.xmp``. What is written: the caption as
``dc:description`` (a language alternative whose first item is ``x-default``), and of the IPTC Core
what has a field there: headline, date created and sublocation. What else the file holds stays,
namespaces, order, comments and packet wrapper included. Photographs are not touched.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from stat import S_ISREG
from typing import Final
from xml.dom.minidom import Document, Element, Node

from lensyard.errors import InvalidInputError
from lensyard.files import write_atomically
from lensyard.records import Record

RDF: Final = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
DC: Final = "http://purl.org/dc/elements/1.1/"
XMP: Final = "http://ns.adobe.com/xap/1.0/"
PHOTOSHOP: Final = "http://ns.adobe.com/photoshop/1.0/"
IPTC_CORE: Final = "http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/"
XML: Final = "http://www.w3.org/XML/1998/namespace"
XMLNS: Final = "http://www.w3.org/2000/xmlns/"
MOST_BYTES: Final = 5_000_000
"""A sidecar of some kilobytes is usual; edits by brush make hundreds."""
_EMPTY: Final = (
    '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
    '<x:xmpmeta xmlns:x="adobe:ns:meta/">\n'
    f' <rdf:RDF xmlns:rdf="{RDF}">\n'
    '  <rdf:Description rdf:about=""/>\n'
    " </rdf:RDF>\n"
    "</x:xmpmeta>\n"
    '<?xpacket end="w"?>\n'
)
DEFAULT: Final = "x-default"
DEEPEST: Final = 60
"""Levels of elements; XMP in use has some ten."""
_IN_TEXT: Final = {"&": "&amp;", "<": "&lt;", ">": "&gt;", "\r": "&#13;"}
_IN_ATTRIBUTES: Final = {**_IN_TEXT, '"': "&quot;", "\n": "&#10;", "\t": "&#9;"}
_PREFIXES: Final = {DC: "dc", PHOTOSHOP: "photoshop", IPTC_CORE: "Iptc4xmpCore", RDF: "rdf"}
_NOT_XML: Final = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


class CaptionFields(Record):
    """What is written of a frame; empty texts are left out.

    ``description``: dc:description. ``headline``, ``created``, ``location``: IPTC Core headline,
    date created (ISO 8601 with its offset) and sublocation.
    """

    description: str
    headline: str = ""
    created: str = ""
    location: str = ""


class Merged(Record):
    """A sidecar after merging: its content, and whether it had another description that stays."""

    content: bytes
    kept: bool


def sidecar_of(photograph: Path) -> Path:
    """Return where a photograph's sidecar lies.

    >>> sidecar_of(Path("card/frame0001.nef")).name
    'frame0001.xmp'
    """
    return photograph.with_suffix(".xmp")


def read_sidecar(path: Path) -> bytes | None:
    """Return a sidecar's content; None where there is none.

    Raises `InvalidInputError` if it is no plain file, too large, or cannot be read.
    """
    try:
        found = path.lstat()
        if not S_ISREG(found.st_mode):
            raise InvalidInputError("is no plain file")
        if found.st_size > MOST_BYTES:
            raise InvalidInputError(f"is larger than {MOST_BYTES // 1_000_000} MB")
        return path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise InvalidInputError(f"cannot be read ({error.strerror or error})") from error


def write_sidecar(path: Path, content: bytes, *, before: bytes | None) -> None:
    """Write a sidecar in one step, unless somebody changed it since it was read as ``before``.

    Raises `InvalidInputError` if somebody did; `StoreError` if the disk refuses.
    """
    if read_sidecar(path) != before:
        raise InvalidInputError("was changed by another program meanwhile")
    write_atomically(path, content)


def rating_in(content: bytes) -> int | None:
    """Return the stars that a sidecar gives (xmp:Rating; -1 is rejected); None where none.

    Raises `InvalidInputError` if the content is no XMP.
    """
    for found in _properties(_parsed(content), XMP, "Rating"):
        with suppress(ValueError, OverflowError):
            return int(float(found.text))
    return None


def merged(content: bytes | None, fields: CaptionFields, *, replace: bool = False) -> Merged:
    """Return a sidecar with the fields that it lacks, or with all of them if ``replace``.

    ``content`` is None where there is none yet. Content that has everything comes back as it was.

    Raises `InvalidInputError` if it is no XMP: no XML, a document type, no RDF.
    """
    before = _EMPTY.encode() if content is None else content
    document = _parsed(before)
    kept = False
    changed = content is None
    wanted = (
        (DC, "description", fields.description),
        (PHOTOSHOP, "Headline", fields.headline),
        (PHOTOSHOP, "DateCreated", fields.created),
        (IPTC_CORE, "Location", fields.location),
    )
    for space, name, wished in wanted:
        text = _NOT_XML.sub("", wished)
        if not text:
            continue
        there = _properties(document, space, name)
        texts = [one.text for one in there]
        if text in texts and len(there) == 1:
            continue
        if any(texts) and not replace:
            kept = kept or name == "description"
            continue
        _set(document, there, space, name, text)
        changed = True
    return Merged(_written(document).encode() if changed else before, kept)


def _parsed(content: bytes) -> Document:
    """Return the document; entities, document types and what they reach are refused."""
    from xml.parsers.expat import ExpatError

    from defusedxml import DefusedXmlException
    from defusedxml.minidom import parseString

    try:
        document: Document = parseString(content, forbid_dtd=True)
    except DefusedXmlException as error:
        raise InvalidInputError("has a document type or entities, which no XMP has") from error
    except (ExpatError, ValueError, LookupError, RecursionError) as error:
        raise InvalidInputError(f"is no XML ({error})") from error
    level = list(_elements(document))
    for _ in range(DEEPEST):
        level = [child for node in level for child in _elements(node)]
    if level:
        raise InvalidInputError(f"is nested more than {DEEPEST} deep, which no XMP is")
    if len(document.getElementsByTagNameNS(RDF, "RDF")) != 1:
        raise InvalidInputError("is XML, but no XMP: it has no rdf:RDF, or several")
    return document


def _elements(node: Node) -> Iterator[Element]:
    return (child for child in node.childNodes if isinstance(child, Element))


def _children(node: Node, space: str, name: str) -> list[Element]:
    found = _elements(node)
    return [one for one in found if one.namespaceURI == space and one.localName == name]


class _Property(Record):
    """A property where it stands: an element of a description, or (None) an attribute of it."""

    owner: Element
    element: Element | None
    space: str
    name: str

    @property
    def text(self) -> str:
        """Its value; of a language alternative the default's, else the first."""
        if self.element is None:
            return self.owner.getAttributeNS(self.space, self.name).strip()
        items = _items(self.element)
        default = next((item for item in items if _language(item) == DEFAULT), None)
        return _text_in(default or (items[0] if items else self.element)).strip()

    def remove(self) -> None:
        """Take it out."""
        if self.element is None:
            self.owner.removeAttributeNS(self.space, self.name)
        else:
            self.owner.removeChild(self.element)


def _properties(document: Document, space: str, name: str) -> list[_Property]:
    """Every place where the packet has a property; more than one is no valid XMP."""
    found = []
    rdf = document.getElementsByTagNameNS(RDF, "RDF")[0]
    for owner in _children(rdf, RDF, "Description"):
        if owner.hasAttributeNS(space, name):
            found.append(_Property(owner, None, space, name))
        found += [_Property(owner, one, space, name) for one in _children(owner, space, name)]
    return found


def _items(element: Element) -> list[Element]:
    return [item for alt in _children(element, RDF, "Alt") for item in _children(alt, RDF, "li")]


def _language(item: Element) -> str:
    return item.getAttributeNS(XML, "lang").lower()


def _text_in(node: Node) -> str:
    if node.nodeType in (Node.TEXT_NODE, Node.CDATA_SECTION_NODE):
        return node.nodeValue or ""
    return "".join(_text_in(child) for child in node.childNodes)


def _set(document: Document, there: Sequence[_Property], space: str, name: str, text: str) -> None:
    """Give a property one value in one place; other languages of an alternative stay."""
    for more in there[1:]:
        more.remove()
    first = there[0] if there else None
    if first is not None and first.element is not None and _children(first.element, RDF, "Alt"):
        element = first.element
    else:
        owner = _owner(document) if first is None else first.owner
        if first is not None:
            first.remove()
        element = _added(document, owner, space, name)
    if space != DC:
        element.appendChild(document.createTextNode(text))
        return
    alternatives = _children(element, RDF, "Alt")
    alt = alternatives[0] if alternatives else _added(document, element, RDF, "Alt")
    item = next((one for one in _items(element) if _language(one) == DEFAULT), None)
    if item is None:
        item = _added(document, alt, RDF, "li", first=True)
        item.setAttributeNS(XML, "xml:lang", DEFAULT)
    for child in list(item.childNodes):
        item.removeChild(child)
    item.appendChild(document.createTextNode(text))


def _owner(document: Document) -> Element:
    """The description that new properties join, so that all keep one rdf:about."""
    rdf = document.getElementsByTagNameNS(RDF, "RDF")[0]
    found = _children(rdf, RDF, "Description")
    if found:
        return found[0]
    made = _added(document, rdf, RDF, "Description")
    made.setAttributeNS(RDF, f"{made.prefix}:about", "")
    return made


def _added(
    document: Document, parent: Element, space: str, name: str, *, first: bool = False
) -> Element:
    prefix, declared = _prefix(parent, space)
    element = document.createElementNS(space, f"{prefix}:{name}")
    if not declared:
        element.setAttributeNS(XMLNS, f"xmlns:{prefix}", space)
    parent.insertBefore(element, parent.firstChild if first else None)
    return element


def _prefix(node: Node | None, space: str) -> tuple[str, bool]:
    """Return a prefix for a namespace at a place, and whether it is declared there already."""
    bound: dict[str, str] = {}
    while isinstance(node, Element):
        for attribute in dict(node.attributes.items()):
            if attribute.startswith("xmlns:"):
                bound.setdefault(attribute[6:], node.getAttribute(attribute))
        node = node.parentNode
    for prefix, uri in bound.items():
        if uri == space:
            return prefix, True
    prefix = _PREFIXES[space]
    while prefix in bound:
        prefix += "1"
    return prefix, False


def _written(document: Document) -> str:
    declared = '<?xml version="1.0" encoding="UTF-8"?>\n' if document.version else ""
    return declared + "\n".join(_text_of(node) for node in document.childNodes) + "\n"


def _text_of(node: Node) -> str:
    """A node as XML; line breaks and tabs in attributes stay what they are, as references."""
    if isinstance(node, Element):
        attributes = "".join(
            f' {name}="{_escaped(value, _IN_ATTRIBUTES)}"'
            for name, value in node.attributes.items()
        )
        inner = "".join(_text_of(child) for child in node.childNodes)
        tag = node.tagName
        return f"<{tag}{attributes}>{inner}</{tag}>" if inner else f"<{tag}{attributes}/>"
    value = node.nodeValue or ""
    if node.nodeType == Node.COMMENT_NODE:
        return f"<!--{value}-->"
    if node.nodeType == Node.PROCESSING_INSTRUCTION_NODE:
        return f"<?{node.nodeName} {value}?>"
    return _escaped(value, _IN_TEXT)


def _escaped(text: str, references: Mapping[str, str]) -> str:
    for character, reference in references.items():
        text = text.replace(character, reference)
    return text
