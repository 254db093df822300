"""Where the embedded typeface lies, and whether it can write a text.

The face is Noto Sans (SIL Open Font License 1.1, ``fonts/OFL.txt``): Latin with all accents,
Greek and Cyrillic. Installed from a wheel it lies in ``packet/fonts``, in a checkout or an
editable install in ``fonts`` beside the package.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Literal

from packet.errors import FontError, PacketError

Style = Literal["Regular", "Bold", "Italic"]

# Every character of these blocks is in the face (a test looks): Basic Latin to Latin Extended-B
# with the accents, Greek letters, Cyrillic. They need no look at the font, which costs an import.
KNOWN = ((0x20, 0x7E), (0xA0, 0x377), (0x3A3, 0x3E1), (0x400, 0x52F))


def font_path(style: Style) -> Path:
    """Path of the TrueType file of a style; PacketError when the installation lacks it."""
    here = Path(__file__).resolve().parent
    for folder in (here / "fonts", here.parent / "fonts"):
        path = folder / f"NotoSans-{style}.ttf"
        if path.is_file():
            return path
    raise PacketError(
        f"The font NotoSans-{style}.ttf is missing from this installation: install packet again."
    )


@cache
def _characters() -> frozenset[int]:
    from reportlab.pdfbase.ttfonts import TTFontFile

    face = TTFontFile(str(font_path("Regular")))  # type: ignore[no-untyped-call]
    return frozenset(face.charToGlyph)


def require_characters(text: str, where: str) -> None:
    """FontError naming each character of ``text`` that the face lacks; ``where``: a key path."""
    doubtful = {s for s in text if not any(low <= ord(s) <= high for low, high in KNOWN)}
    lacking = sorted(sign for sign in doubtful if ord(sign) not in _characters())
    if lacking:
        named = ", ".join(f"{sign} (U+{ord(sign):04X})" for sign in lacking)
        raise FontError(
            f"{where} holds a character that the printed pages cannot show: {named}. "
            "Write it in Latin letters, as in the machine-readable lines of the passport."
        )
