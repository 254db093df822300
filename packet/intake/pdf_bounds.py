"""How much a PDF page draws, worked out before a native reader is asked to draw it.

A few hundred bytes can unpack to millions of lines, show a form that shows a form ten times ten
times over, or fill the page with tiles of a hundredth of a point. The limits are far above what
papers hold; they are choices of this project, no outside source.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from packet.errors import ScanLimitError
from packet.units import mm_to_pt

if TYPE_CHECKING:
    from pypdf import PageObject

MOST_DRAWING_BYTES = 16_000_000  # operators carried out, forms counted each time they are shown
MOST_TILES = 10_000_000  # of one pattern on one page
_DEEPEST = 40
_SHADING = 2  # pattern type (ISO 32000-2, 8.7.4)
_DAMAGED_BYTES = 100_000
_SELF_BYTES = 2_000_000  # for a form within itself, which a reader follows some levels down
_ADDS = {"/Image": 0, "/PS": 0}  # what showing these adds (ISO 32000-2, table 86)
_SHOWN = re.compile(rb"/([^\s/\[\]<>(){}%]+)\s+Do(?![A-Za-z])")


def check_drawing(page: PageObject | None, number: int) -> None:
    """ScanLimitError where page ``number`` draws beyond all measure; in doubt it passes."""
    if page is None:
        return
    try:
        too_much = _too_much(page)
    except Exception as error:  # a damaged page raises anything; a library's own limit is ours too
        too_much = type(error).__name__ == "LimitReachedError"
    if too_much:
        raise ScanLimitError(
            f"has a page that draws far more than paper holds (page {number}).",
            "Print that page and scan it, or save it as a picture.",
        )


def _too_much(page: PageObject) -> bool:
    meter = _Meter()
    resources = _resolved(page.get("/Resources"))
    contents = page.get_contents()
    work = meter.work(contents.get_data(), resources, ()) if contents is not None else 0
    for look in _appearances(page):
        work += meter.of_form(look, ())
    if work > MOST_DRAWING_BYTES:
        return True
    return any(tiles > MOST_TILES for tiles in _tiles(resources, _area(page)))


def _area(page: PageObject) -> float:
    """Square points; those of A4 where the page does not tell: so do native readers, nearly."""
    try:
        box = page.mediabox
        return abs(float(box.width) * float(box.height))
    except Exception:
        return mm_to_pt(210.0) * mm_to_pt(297.0)


class _Meter:
    """Bytes of operators that a content stream carries out, what it shows included."""

    def __init__(self) -> None:
        self._known: dict[int, int] = {}
        self._kept: list[Any] = []  # so that an id is not used twice

    def work(
        self, content: bytes, resources: Any, above: tuple[int, ...], outer: Any = None
    ) -> int:
        """The stream's own bytes and, for every time a form is shown, the form's.

        ``outer``: the XObjects around it: readers look there for what its own do not hold.
        """
        total = len(content)
        own = _resolved(resources.get("/XObject")) if resources is not None else None
        held = {**(outer or {}), **(own or {})}
        if len(above) > _DEEPEST or total > MOST_DRAWING_BYTES:
            return total
        for shown in _SHOWN.finditer(content):
            total += self._shown(held, "/" + shown[1].decode("latin-1"), above)
            if total > MOST_DRAWING_BYTES:
                break
        return total

    def _shown(self, held: Any, name: str, above: tuple[int, ...]) -> int:
        """What showing one name adds.

        The native reader may see more in a damaged or unknown object than pypdf does: it counts
        as ``_DAMAGED_BYTES`` each time it is shown.
        """
        try:
            form = _resolved(held.get(name))
            kind = form.get("/Subtype")
            return self.of_form(form, above, held) if kind == "/Form" else _ADDS[kind]
        except Exception as error:
            if type(error).__name__ == "LimitReachedError":
                raise
            return _DAMAGED_BYTES

    def of_form(self, form: Any, above: tuple[int, ...], outer: Any = None) -> int:
        """The same for a form XObject; one that shows itself is not drawn by every reader."""
        if id(form) in above:
            return _SELF_BYTES
        if id(form) not in self._known:
            self._kept.append(form)
            inner = _resolved(form.get("/Resources"))
            self._known[id(form)] = self.work(form.get_data(), inner, (*above, id(form)), outer)
        return self._known[id(form)]


def _appearances(page: PageObject) -> Iterator[Any]:
    """The normal appearance streams of the page's annotations."""
    for note in _resolved(page.get("/Annots")) or ():
        looks = _resolved(_resolved(note).get("/AP"))
        look = _resolved(looks.get("/N")) if looks else None
        if look is None:
            continue
        if hasattr(look, "get_data"):
            yield look
        else:
            yield from (_resolved(one) for one in look.values())


def _tiles(resources: Any, area: float) -> Iterator[float]:
    """How often each tiling pattern fits on the page (ISO 32000-2, 8.7.3).

    A damaged pattern counts as endless: the native reader may see in it what pypdf does not.
    """
    patterns = (_resolved(resources.get("/Pattern")) if resources else None) or {}
    for name in patterns:
        try:
            yield _tiles_of(_resolved(patterns.get(name)), area)
        except Exception:
            yield math.inf


def _tiles_of(pattern: Any, area: float) -> float:
    if int(pattern["/PatternType"]) == _SHADING:
        return 0.0
    a, b, c, d = (float(one) for one in (pattern.get("/Matrix") or (1, 0, 0, 1))[:4])
    tile = float(pattern["/XStep"]) * float(pattern["/YStep"]) * (a * d - b * c)
    return area / max(abs(tile), 1e-9)


def _resolved(value: Any) -> Any:
    return value.get_object() if value is not None else None
