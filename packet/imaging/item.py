"""One decoded picture to a PageResult: find, size, turn, rectify, tone, judge, encode."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from packet.imaging.encode import encode_bilevel, encode_jpeg, encode_png, preview_jpeg
from packet.imaging.expected import Expected
from packet.imaging.fingerprint import fingerprint
from packet.imaging.flat import Flat, flatten
from packet.imaging.geometry import (
    Pixels,
    Quads,
    from_top_left,
    top_angle_deg,
)
from packet.imaging.layout_cues import recognise
from packet.imaging.limits import limit_for
from packet.imaging.outlines import PAGE_KINDS, Outline, find_outlines
from packet.imaging.quality import is_blank, margins_clear_mm, seen_part
from packet.imaging.sizing import (
    Sized,
    expected_sizes,
    size_as_kind,
    size_item,
    trusted_px_per_mm,
)
from packet.imaging.tone import light_field, toned
from packet.imaging.verdicts import (
    blank_finding,
    blur_findings,
    cut_off_finding,
    cut_off_mm,
    light_findings,
    mirrored_finding,
    not_found_finding,
    resolution_findings,
    size_findings,
)
from packet.imaging.view import halved, make_view
from packet.intake.picture import Picture
from packet.model import (
    EncodedImage,
    Finding,
    Item,
    ItemOverride,
    Kind,
    PageResult,
    Quad,
    ScanTask,
    Severity,
    Tone,
    Turn,
)
from packet.readings import ItemReader, Reading, ReadRequest

_SAME_SIZE = 0.05  # logarithm
_FINE_DPI = 299.0  # light, ink and shadows are judged at half of what is finer: 150 dpi
_NO_OVERRIDE = ItemOverride(scan="")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Held:
    """An item with the size it is taken for, and the turn that has been made (None: unsure)."""

    flat: Flat
    sized: Sized
    turn: Turn | None
    mirrored: bool = False

    def sized_as(self, sized: Sized) -> _Held:
        """The same item taken for one of another kind or size."""
        return replace(self, flat=self.flat.resized(sized.size_mm), sized=sized)

    def turned(self, turn: Turn) -> _Held:
        """The same item turned clockwise."""
        sized = self.sized.turned() if turn % 180 else self.sized
        return replace(self, flat=self.flat.turned(turn), sized=sized)


def picture_page(task: ScanTask, picture: Picture, reader: ItemReader | None = None) -> PageResult:
    """The items of one picture, judged, and encoded unless the task says otherwise.

    ``reader``: reads each item's text; its turn and kind go before those told by the look alone.
    """
    overrides = tuple(one for one in task.overrides if one.page == picture.page)
    kinds = _kinds_wanted(task.kinds, overrides)
    expected = _expected(picture, kinds, overrides)
    view = make_view(picture.pixels)
    items = []
    outlines = find_outlines(
        picture,
        view,
        expected,
        any_kind=_expected(picture, _rivals(kinds), overrides)
        if expected.perspective
        else expected,
        kinds=_kinds_sought(kinds),
        overrides=overrides,
    )
    pair = len(outlines) == 2 and not any(one.cut for one in outlines)
    for number, outline in enumerate(outlines, start=1):
        override = next((one for one in overrides if one.item == number), _NO_OVERRIDE)
        items.append(
            _make_item(
                task,
                picture,
                outline,
                levels=view.levels,
                number=number,
                override=override,
                expected=expected.beside(outlines[2 - number].quad) if pair else expected,
                reader=reader,
            )
        )
    return PageResult(
        scan=task.name,
        page=picture.page,
        width_px=picture.width_px,
        height_px=picture.height_px,
        items=tuple(items),
        findings=_page_findings(task, picture),
        preview=preview_jpeg(picture.pixels, view.levels) if task.preview else b"",
    )


def _kinds_wanted(kinds: Sequence[Kind], overrides: Sequence[ItemOverride]) -> tuple[Kind, ...]:
    given = tuple(one.kind for one in overrides if one.kind is not None)
    return tuple(dict.fromkeys((*(kinds or tuple(Kind)), *given)))


def _kinds_sought(kinds: Sequence[Kind]) -> tuple[Kind, ...]:
    """Kinds that outlines are sought by: "other" has no size, and mostly is of a usual shape."""
    return tuple(Kind) if set(kinds) == {Kind.OTHER} else tuple(kinds)


def _rivals(kinds: Sequence[Kind]) -> tuple[Kind, ...]:
    """The same and all others that have a size: where no scale tells them apart, one page of an
    opening has the shape of an opening. An odd one is looked for only where it is wanted."""
    return tuple(dict.fromkeys((*kinds, *(one for one in Kind if one is not Kind.OTHER))))


def _expected(
    picture: Picture, kinds: Sequence[Kind], overrides: Sequence[ItemOverride]
) -> Expected:
    given = [one.size_mm for one in overrides if one.size_mm is not None]
    turned = [(h, w) for w, h in given]
    scale = trusted_px_per_mm(picture)
    return Expected(
        sizes_mm=(*expected_sizes(_kinds_sought(kinds)), *given, *turned),
        px_per_mm=scale,
        any_shape=Kind.OTHER in kinds,
        perspective=scale is None,
        camera=picture.source == "camera",
        openings=Kind.PASSPORT_SPREAD in kinds,
        width_px=picture.width_px,
        height_px=picture.height_px,
    )


def _make_item(
    task: ScanTask,
    picture: Picture,
    outline: Outline,
    *,
    levels: Sequence[Pixels],
    number: int,
    override: ItemOverride,
    expected: Expected,
    reader: ItemReader | None,
) -> Item:
    quad, turn = _turned(outline, override)
    sized = _sized(quad, outline, task, override, expected)
    known = override.kind is not None or override.size_mm is not None
    kinds = () if known else task.kinds or tuple(Kind)
    given = turn is not None
    full = not task.small or task.encode or task.preview or reader is not None
    held = _Held(flat=flatten(levels, quad, sized.size_mm), sized=sized, turn=turn)
    held = _recognised(held, kinds, expected, given=given)
    if full:
        held = replace(held, flat=held.flat.printed())
    reading = None
    if reader is not None:
        reading = _read(reader, held, kinds=kinds, given=given)
        held = _as_read(reading, held, expected=expected, kinds=kinds, given=given)
    flat, sized, turn = held.flat, held.sized, held.turn
    quad, kind, dpi = flat.quad, sized.kind, flat.full_dpi
    tone: Tone = override.tone or task.tone
    subject = f"{task.name}#{picture.page}.{number}"
    part = seen_part(flat.grey, quad, width_px=picture.width_px, height_px=picture.height_px)
    calm, calm_dpi = (halved(part), flat.dpi / 2) if flat.dpi > _FINE_DPI else (part, flat.dpi)
    field = light_field(calm, dpi=calm_dpi)
    grey = toned(calm, field, kind=kind, tone="grey", dpi=calm_dpi)
    blank = is_blank(grey, kind=kind, dpi=calm_dpi)
    findings = (
        *_outline_findings(outline, flat, subject=subject, picture=picture),
        *size_findings(sized, subject=subject, flat=not expected.perspective),
        *blur_findings(flat, part, subject=subject, blank=blank, kind=kind),
        *((blank_finding(subject, kind),) if blank else ()),
        *light_findings(calm, grey, dpi=calm_dpi, subject=subject, picture=picture, kind=kind),
        *resolution_findings(flat, subject=subject),
        *((mirrored_finding(subject),) if held.mirrored else ()),
    )
    item = Item(
        scan=task.name,
        page=picture.page,
        item=number,
        kind=kind,
        corners_px=_as_quad(quad),
        turn_deg=turn,
        skew_deg=_rest_angle(quad, turn),
        size_mm=sized.size_mm,
        measured_mm=sized.measured_mm,
        dpi=dpi,
        tone=tone,
        blank=blank,
        margins_clear_mm=margins_clear_mm(grey, dpi=calm_dpi)
        if kind in PAGE_KINDS
        else (0.0, 0.0, 0.0, 0.0),
        kind_from_user=override.kind is not None,
        findings=findings,
        fingerprint=b"" if blank else fingerprint(grey, kind=kind),
        reading=reading,
    )
    if flat.full is None or not (task.encode or task.preview):
        return item
    final = toned(flat.full, field, kind=kind, tone=tone, dpi=dpi)
    return replace(
        item,
        image=_encoded(final, tone, task, dpi) if task.encode else None,
        preview=preview_jpeg(final) if task.preview else b"",
    )


def _recognised(held: _Held, kinds: Sequence[Kind], expected: Expected, *, given: bool) -> _Held:
    """Kind, size and turn as the look tells; a turn that the user gave stays."""
    told = recognise(held.flat.grey, held.flat.quad, held.sized, kinds, expected)
    held = replace(held.sized_as(told.sized), mirrored=told.mirrored)
    return held if given else replace(held.turned(told.turn or 0), turn=told.turn)


def _outline_findings(
    outline: Outline, flat: Flat, *, subject: str, picture: Picture
) -> tuple[Finding, ...]:
    if outline.page:
        return ()
    if outline.whole:
        return (not_found_finding(subject, plausible=outline.plausible),)
    far = cut_off_mm(
        flat.quad, flat.size_mm, width_px=picture.width_px, height_px=picture.height_px
    )
    if far > limit_for("cut-off").limit or outline.cut:
        return (cut_off_finding(subject, far),)
    return ()


def _read(reader: ItemReader, held: _Held, *, kinds: Sequence[Kind], given: bool) -> Reading:
    flat = held.flat
    assert flat.full is not None
    return reader(
        ReadRequest(
            pixels=flat.full,
            dpi=flat.full_dpi,
            size_mm=flat.size_mm,
            kind=held.sized.kind,
            kinds=tuple(kinds),
            turned=held.turn is not None,
            turn_given=given,
        )
    )


def _as_read(
    reading: Reading,
    held: _Held,
    *,
    expected: Expected,
    kinds: Sequence[Kind],
    given: bool,
) -> _Held:
    """Kind, size and turn as the text tells; what the user gave stays."""
    kind, more = reading.kind, reading.turn_deg
    if kind is not None and kind in kinds and kind is not held.sized.kind:
        told = size_as_kind(held.flat.quad, kind, expected)
        if _fits_measure(told) or not _fits_measure(held.sized):  # words do not stretch a paper
            held = held.sized_as(told)
    if given or more is None:
        return held
    turn = _turn_of(-90.0 * (((held.turn or 0) + more) // 90))
    return replace(held.turned(more), turn=turn)


def _fits_measure(sized: Sized) -> bool:
    """True where a trusted dpi gives the size that the item is taken for."""
    pairs = zip(sized.measured_mm or (), sized.size_mm, strict=False)
    return sized.measured_mm is not None and all(
        abs(math.log(measured / taken)) < _SAME_SIZE for measured, taken in pairs
    )


def _turned(outline: Outline, override: ItemOverride) -> tuple[Quads, Turn | None]:
    """(the quad from the upright item's top left, the turn or None when unsure)."""
    if override.turn is not None:
        shown = from_top_left(outline.quad)
        return np.roll(shown, override.turn // 90, axis=0), override.turn
    if outline.from_user:
        return outline.quad, _turn_of(top_angle_deg(outline.quad))
    return outline.quad, None


def _turn_of(angle_deg: float) -> Turn:
    turns: tuple[Turn, ...] = (0, 90, 180, 270)
    return turns[round(-angle_deg / 90) % 4]


def _rest_angle(quad: Quads, turn: Turn | None) -> float:
    angle = top_angle_deg(quad) + (turn or 0)
    return (angle + 45) % 90 - 45


def _sized(
    quad: Quads,
    outline: Outline,
    task: ScanTask,
    override: ItemOverride,
    expected: Expected,
) -> Sized:
    if override.kind is not None:
        sized = size_as_kind(quad, override.kind, expected)
    else:
        kinds = task.kinds or tuple(Kind)
        sized = size_item(quad, kinds, expected, strict=outline.whole)
    if override.size_mm is None:
        return sized
    width, height = override.size_mm
    aspect, _ = expected.aspect_of(quad)
    sideways = (aspect > 1) != (width > height) and abs(math.log(width / height)) > 0.05
    if sideways and override.turn is None and not outline.from_user:
        width, height = height, width
    return replace(sized, size_mm=(width, height), basis="given")


def _as_quad(quad: Quads) -> Quad:
    a, b, c, d = ((float(x), float(y)) for x, y in quad)
    return a, b, c, d


def _encoded(image: Pixels, tone: Tone, task: ScanTask, dpi: float) -> EncodedImage:
    if task.lossless:
        return encode_png(image, dpi=dpi)
    if tone == "bilevel":
        return encode_bilevel(image)
    return encode_jpeg(image)


def _page_findings(task: ScanTask, picture: Picture) -> tuple[Finding, ...]:
    if not picture.more_pictures:
        return ()
    return (
        Finding(
            code="more-pictures",
            severity=Severity.NOTE,
            subject=f"{task.name}#{picture.page}",
            message="The file holds further pictures; only the first is used.",
            remedy="If one of them is wanted, save it as a file of its own.",
        ),
    )
