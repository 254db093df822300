"""Typefaces on this machine: free ones for print, hands, and OCR-B for machine lines."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from PIL import ImageFont

_FOLDERS = (Path("/usr/share/fonts"), Path("/usr/local/share/fonts"))
_OWN = Path(__file__).resolve().parents[3] / "fonts"
_WANTED = {
    "sans": (
        "LiberationSans-Regular", "DejaVuSans", "LiberationSansNarrow-Regular",
        "DejaVuSansCondensed", "NotoSans-Regular", "NotoSansDisplay-Regular",
    ),
    "bold": (
        "LiberationSans-Bold", "DejaVuSans-Bold", "LiberationSansNarrow-Bold",
        "DejaVuSansCondensed-Bold", "NotoSans-Bold",
    ),
    "serif": ("LiberationSerif-Regular", "DejaVuSerif", "NotoSerif-Regular"),
    "serif-bold": ("LiberationSerif-Bold", "DejaVuSerif-Bold", "NotoSerif-Bold"),
    "mono": ("LiberationMono-Regular", "DejaVuSansMono", "NotoMono-Regular"),
    "mono-bold": ("LiberationMono-Bold", "DejaVuSansMono-Bold"),
    "hand": ("dkg", "dkgIt", "Breip", "Rufscript010"),
    "mrz": ("OCRB", "OCRBS"),
}  # fmt: skip
_ELSE = {"bold": "Bold", "serif-bold": "Bold", "mono-bold": "Bold", "hand": "Italic"}


@cache
def _found() -> dict[str, Path]:
    files = (path for folder in _FOLDERS if folder.is_dir() for path in folder.rglob("*.[ot]tf"))
    return {path.stem: path for path in sorted(files, reverse=True)}


@cache
def faces(role: str) -> tuple[str, ...]:
    """Paths of the faces of a role that are here; Noto Sans of the checkout where none is.

    Empty for "mrz" where no OCR-B is installed: tests that need it skip.
    """
    here = tuple(str(_found()[name]) for name in _WANTED[role] if name in _found())
    if here or role == "mrz":
        return here
    return (str(_OWN / f"NotoSans-{_ELSE.get(role, 'Regular')}.ttf"),)


@cache
def face(path: str, size_px: int) -> ImageFont.FreeTypeFont:
    """A face at an em height in pixels."""
    return ImageFont.truetype(path, size_px)
