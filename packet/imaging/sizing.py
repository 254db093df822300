"""Kind and true size of a found outline: what was asked for, its shape, and a trusted dpi."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from packet.imaging.expected import EXACT, MOST_CARD_LIE, MOST_LIE, Expected
from packet.imaging.geometry import Quads
from packet.intake.picture import Picture
from packet.model import Kind, SizeMm
from packet.rules.sizes import card_size_mm, kind_sizes_mm, paper_size_mm
from packet.units import MM_PER_INCH

_RANK_COST = 0.25
_MOST_MISS = 2.5  # tolerances by which a shape may be off; beyond, it is not this kind
_MOST_SIZE_MISS = 0.06  # by a trusted dpi; beyond, where "other" may be there, it is "other"
_CARD_SHAPE_MISS = 0.5  # tolerances: so near the shape of ID-1, a lying tag is the likelier
_ABOUT_SHAPE = 0.05  # logarithm; ID-1 and ID-2 are 0.11 apart
_OTHER_SHAPE = 3.0  # logarithm: more than any tag lies

# Where nothing says what a scan holds.
LIKELIEST_FIRST = (
    Kind.PASSPORT_SPREAD,
    Kind.A4_PAGE,
    Kind.ID_CARD_FRONT,
    Kind.PASSPORT_PAGE,
    Kind.LETTER_PAGE,
    Kind.ID_CARD_BACK,
    Kind.PERMIT_FRONT,
    Kind.PERMIT_BACK,
    Kind.TAX_CARD_FRONT,
    Kind.TAX_CARD_BACK,
    Kind.VISA_PAGE,
    Kind.PASSPORT_COVER,
    Kind.FORM_PAGE,
    Kind.OTHER,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sized:
    """``basis``: where the size comes from ("kind", "dpi", "given" or "a4")."""

    kind: Kind
    size_mm: SizeMm
    measured_mm: SizeMm | None
    basis: str

    def turned(self) -> Sized:
        """The same item a quarter turn round."""
        measured = self.measured_mm
        return replace(
            self,
            size_mm=(self.size_mm[1], self.size_mm[0]),
            measured_mm=None if measured is None else (measured[1], measured[0]),
        )


def trusted_px_per_mm(picture: Picture) -> tuple[float, float] | None:
    """(x, y) scale of the picture where its dpi can be believed: a scanner's or a PDF page's."""
    if picture.dpi is None or picture.source not in ("scanner", "pdf"):
        return None
    x, y = picture.dpi
    if picture.source == "scanner" and (min(x, y) < 100 or max(x, y) > 4800):
        return None
    if min(x, y) <= 0:
        return None
    return x / MM_PER_INCH, y / MM_PER_INCH


def expected_sizes(kinds: Sequence[Kind]) -> tuple[SizeMm, ...]:
    """Every size that an item of these kinds may have as shown, in any turn."""
    sizes: dict[SizeMm, None] = {}
    for kind in kinds:
        for w, h in kind_sizes_mm(kind):
            sizes[(w, h)] = None
            sizes[(h, w)] = None
    return tuple(sizes)


def size_item(
    quad: Quads, kinds: Sequence[Kind], expected: Expected, *, strict: bool = False
) -> Sized:
    """The likeliest kind and size of an outline, for the item as it is shown.

    ``strict``: the outline is the edge of the picture, so its shape is known without error, and so
    is its size where there is a trusted scale.
    """
    measured = expected.measured_mm(quad) if expected.px_per_mm is not None else None
    aspect, _ = expected.aspect_of(quad)
    tolerance = 0.04 if expected.perspective and not strict else 0.02
    if set(kinds) == set(Kind):
        kinds = LIKELIEST_FIRST
    most_miss = _MOST_SIZE_MISS if Kind.OTHER in kinds else MOST_LIE
    options = [
        (cost + _RANK_COST * (rank + 2 * number), rank, size)
        for rank, kind in enumerate(kinds)
        for number, size in _numbered(kind)
        if (cost := _cost(size, aspect, measured, tolerance, most_miss)) is not None
    ]
    if options:
        _, rank, size_mm = min(options)
        if strict and measured is not None and _unlike(measured, size_mm):
            return Sized(kind=kinds[rank], size_mm=measured, measured_mm=measured, basis="dpi")
        return Sized(kind=kinds[rank], size_mm=size_mm, measured_mm=measured, basis="kind")
    kind = Kind.OTHER if Kind.OTHER in kinds or not kinds else kinds[0]
    if measured is not None:
        return Sized(kind=kind, size_mm=measured, measured_mm=measured, basis="dpi")
    if not strict and kind is not Kind.OTHER:  # it is said to be one of these
        return min(
            (size_as_kind(quad, one, expected) for one in kinds),
            key=lambda sized: abs(
                math.log(max(aspect, 1e-6) * sized.size_mm[1] / sized.size_mm[0])
            ),
        )
    return Sized(kind=kind, size_mm=fitted_to_a4(aspect), measured_mm=None, basis="a4")


def _numbered(kind: Kind) -> list[tuple[int, SizeMm]]:
    """(how unlikely, size) of a kind's sizes in any turn: lying on its side counts as one more."""
    first: dict[tuple[float, ...], tuple[int, SizeMm]] = {}
    for size in _as_shown(kind):
        first.setdefault(tuple(sorted(size)), (len(first), size))
    numbers = ((size, first[tuple(sorted(size))]) for size in _as_shown(kind))
    return [(number + (size != upright), size) for size, (number, upright) in numbers]


def _unlike(measured_mm: SizeMm, size_mm: SizeMm) -> bool:
    """A glass larger than the page on it, which is not squeezed to the size of the page."""
    pairs = zip(measured_mm, size_mm, strict=True)
    return any(abs(math.log(measured / size)) > EXACT for measured, size in pairs)


def _cost(
    size_mm: SizeMm,
    aspect: float,
    measured_mm: SizeMm | None,
    tolerance: float,
    most_miss: float,
) -> float | None:
    """How badly a size explains an outline, in tolerances; None when it cannot."""
    width, height = size_mm
    shape = abs(math.log(max(aspect, 1e-6) / (width / height))) / tolerance
    if shape > _MOST_MISS:
        return None
    if measured_mm is None:
        return shape
    miss = max(abs(math.log(measured_mm[0] / width)), abs(math.log(measured_mm[1] / height)))
    if _is_card(size_mm) and shape < _CARD_SHAPE_MISS:
        most_miss = MOST_LIE if most_miss < MOST_LIE else MOST_CARD_LIE
    return None if miss > most_miss else shape + min(miss / 0.04, 20.0)


def _is_card(size_mm: SizeMm) -> bool:
    """ID-1, whose shape no other thing has that is scanned for a packet."""
    return sorted(size_mm) == sorted(card_size_mm("id-1"))


def _as_shown(kind: Kind) -> tuple[SizeMm, ...]:
    """Sizes of a kind in any turn, the upright ones first."""
    upright = kind_sizes_mm(kind)
    sideways = tuple((h, w) for w, h in upright)
    return tuple(dict.fromkeys((*upright, *sideways)))


def size_as_kind(quad: Quads, kind: Kind, expected: Expected) -> Sized:
    """The size when the kind is known: the nearest of its sizes, however far, of those that have
    about its shape, if any do: a tag that lies changes no shape."""
    measured = expected.measured_mm(quad) if expected.px_per_mm is not None else None
    sizes = _as_shown(kind)
    if not sizes:
        return size_item(quad, (kind,), expected)
    aspect, _ = expected.aspect_of(quad)

    def off_shape(size: SizeMm) -> float:
        return abs(math.log(max(aspect, 1e-6) * size[1] / size[0]))

    def miss(size: SizeMm) -> float:
        if measured is None:
            return off_shape(size)
        apart = max(abs(math.log(measured[k] / size[k])) for k in (0, 1))
        return apart + (_OTHER_SHAPE if off_shape(size) > _ABOUT_SHAPE else 0.0)

    # among equals (ID-2 and ID-3 have one shape) the likeliest, which stands first, wins
    nearest = min(sizes, key=lambda size: (round(miss(size) / 0.03), sizes.index(size)))
    return Sized(kind=kind, size_mm=nearest, measured_mm=measured, basis="kind")


def fitted_to_a4(aspect: float) -> SizeMm:
    """The largest size of this shape (width / height) on an A4 page, turned as it suits."""
    short, long = paper_size_mm("a4")
    width, height = (short, long) if aspect <= 1 else (long, short)
    aspect = min(max(aspect, 0.01), 100.0)
    if aspect > width / height:
        return width, width / aspect
    return height * aspect, height
