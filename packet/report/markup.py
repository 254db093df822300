"""Small pieces of HTML: escaping, names, links, data URIs. Nothing leaves here unescaped."""

from __future__ import annotations

from base64 import b64encode
from html import escape

from packet.intake.names import shown
from packet.model import Kind
from packet.spool import Blob, bytes_of

KIND_WORDS = {
    Kind.PASSPORT_COVER: "passport cover",
    Kind.PASSPORT_SPREAD: "passport opening",
    Kind.PASSPORT_PAGE: "passport page",
    Kind.VISA_PAGE: "visa page",
    Kind.ID_CARD_FRONT: "identity card, front",
    Kind.ID_CARD_BACK: "identity card, back",
    Kind.PERMIT_FRONT: "permit, front",
    Kind.PERMIT_BACK: "permit, back",
    Kind.TAX_CARD_FRONT: "tax card, front",
    Kind.TAX_CARD_BACK: "tax card, back",
    Kind.A4_PAGE: "A4 page",
    Kind.LETTER_PAGE: "Letter page",
    Kind.FORM_PAGE: "page of the form",
    Kind.OTHER: "item",
}


def safe(text: str) -> str:
    """``text`` for an element or a quoted attribute.

    Signs that do not print (control signs, direction marks, parts of a broken file name) are
    shown as escapes, so that a file name can neither break the page nor disguise itself.
    """
    return escape(shown(text), quote=True)


def name(text: str) -> str:
    """A file name or key inside a sentence, set apart from the direction of its script."""
    return f'<bdi class="breaks">{safe(text)}</bdi>'


def italian(text: str) -> str:
    """Italian words in the English page."""
    return f'<span lang="it">{safe(text)}</span>'


def data_uri(blob: Blob) -> str | None:
    """A JPEG or PNG as a data URI; None for anything else."""
    picture = bytes_of(blob)
    if picture.startswith(b"\xff\xd8\xff"):
        kind = "jpeg"
    elif picture.startswith(b"\x89PNG\r\n\x1a\n"):
        kind = "png"
    else:
        return None
    return f"data:image/{kind};base64,{b64encode(picture).decode('ascii')}"


def percent(part: float, whole: float) -> str:
    """A share for a style attribute: ``41.905%``."""
    return f"{100 * part / whole:.3f}%"


def millimetres(value: float) -> str:
    """``85.6``: at most one decimal, no trailing zero."""
    return f"{value:.1f}".removesuffix(".0")
