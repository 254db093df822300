"""One decoded picture to a PageResult: find, size, turn, rectify, tone, judge, encode."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from packet.imaging.encode import encode_bilevel, encode_jpeg, encode_png, preview_jpeg
from packet.imaging.find import Found, find_items
from packet.imaging.fingerprint import fingerprint
from packet.imaging.geometry import (
    Pixels,
    Quads,
    from_top_left,
    side_lengths,
    signed_area,
    top_angle_deg,
    whole_picture,
)
from packet.imaging.layout_cues import recognise
from packet.imaging.limits import limit_for
from packet.imaging.quality import is_blank, margins_clear_mm, seen_part
from packet.imaging.rectify import rectify, result_dpi, source_dpi
from packet.imaging.score import Expected
from packet.imaging.sizing import (
    Sized,
    expected_sizes,
    size_as_kind,
    size_item,
    trusted_px_per_mm,
)
from packet.imaging.skew import straightened
from packet.imaging.tone import set_tone
from packet.imaging.verdicts import (
    cut_off_finding,
    cut_off_mm,
    not_found_finding,
    picture_findings,
    size_findings,
)
from packet.imaging.view import make_view
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

PAGE_KINDS = {Kind.A4_PAGE, Kind.LETTER_PAGE, Kind.FORM_PAGE, Kind.OTHER}
_WHOLE_TOLERANCE = 0.03
_NO_OVERRIDE = ItemOverride(scan="")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Outline:
    """An outline as shown, whether it is the whole picture, and how the page was found."""

    quad: Quads
    whole: bool = False
    plausible: bool = True
    from_user: bool = False
    cut: bool = False


def picture_page(task: ScanTask, picture: Picture, reader: ItemReader | None = None) -> PageResult:
    """The items of one picture, judged, and encoded unless the task says otherwise.

    ``reader``: reads each item's text; its turn and kind go before those told by the look alone.
    """
    overrides = tuple(one for one in task.overrides if one.page == picture.page)
    kinds = _kinds_wanted(task.kinds, overrides)
    expected = _expected(picture, kinds, overrides)
    items = []
    for number, outline in enumerate(_outlines(picture, expected, kinds, overrides), start=1):
        override = next((one for one in overrides if one.item == number), _NO_OVERRIDE)
        items.append(
            _make_item(
                task,
                picture,
                outline,
                number=number,
                override=override,
                expected=expected,
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
        preview=preview_jpeg(picture.pixels) if task.preview else b"",
    )


def _kinds_wanted(kinds: Sequence[Kind], overrides: Sequence[ItemOverride]) -> tuple[Kind, ...]:
    given = tuple(one.kind for one in overrides if one.kind is not None)
    return tuple(dict.fromkeys((*(kinds or tuple(Kind)), *given)))


def _expected(
    picture: Picture, kinds: Sequence[Kind], overrides: Sequence[ItemOverride]
) -> Expected:
    given = [one.size_mm for one in overrides if one.size_mm is not None]
    turned = [(h, w) for w, h in given]
    scale = trusted_px_per_mm(picture)
    return Expected(
        sizes_mm=(*expected_sizes(kinds), *given, *turned),
        px_per_mm=scale,
        any_shape=Kind.OTHER in kinds,
        perspective=scale is None,
        openings=Kind.PASSPORT_SPREAD in kinds,
        width_px=picture.width_px,
        height_px=picture.height_px,
    )


# --- where the items are -----------------------------------------------------------------------


def _outlines(
    picture: Picture,
    expected: Expected,
    kinds: Sequence[Kind],
    overrides: Sequence[ItemOverride],
) -> list[_Outline]:
    given = [one for one in overrides if one.corners is not None]
    if given:
        given.sort(key=lambda one: one.item)
        return [_given_outline(one) for one in given]
    plausible = is_page_itself(expected)
    found = find_items(picture.pixels, make_view(picture.pixels), expected)
    if plausible and not any(_stands_out(one, expected, kinds) for one in found):
        found = []
    if found:
        return [_Outline(quad=one.quad, cut=one.cut) for one in found]
    outline = whole_picture(picture.width_px, picture.height_px)
    if plausible and _square_pixels(picture):
        outline = straightened(picture.pixels)[0]
    return [_Outline(quad=outline, whole=True, plausible=plausible)]


def _given_outline(override: ItemOverride) -> _Outline:
    quad = np.array(override.corners, dtype=np.float64)
    if signed_area(quad) < 0:
        quad = np.roll(quad[::-1], 1, axis=0)
    return _Outline(quad=quad, from_user=True)


def is_page_itself(expected: Expected) -> bool:
    """True where the whole picture has the shape of a wanted kind."""
    return bool(_whole_scales(expected))


def _whole_scales(expected: Expected) -> list[float]:
    """Pixels per mm of the picture, for each wanted size that the whole picture may be."""
    wide, high = side_lengths(whole_picture(expected.width_px, expected.height_px))
    if expected.px_per_mm is not None and _has_page_size(expected):
        return [math.sqrt(expected.px_per_mm[0] * expected.px_per_mm[1])]
    return [
        wide / w
        for w, h in expected.sizes_mm
        if abs(math.log(wide / high * h / w)) < _WHOLE_TOLERANCE / 2
    ]


def _has_page_size(expected: Expected) -> bool:
    """True where the trusted dpi makes the whole picture as large as a wanted kind."""
    if expected.px_per_mm is None:
        return False
    wide, high = expected.measured_mm(whole_picture(expected.width_px, expected.height_px))
    return any(
        max(abs(math.log(wide / w)), abs(math.log(high / h))) < _WHOLE_TOLERANCE
        for w, h in expected.sizes_mm
    )


def _stands_out(one: Found, expected: Expected, kinds: Sequence[Kind]) -> bool:
    """On a picture that may itself be the page: is this an item on it, or only printed on it?

    It is an item when it takes up much of the picture, or has a wanted size at the picture's own
    scale; among pages only the former counts, for a page is no part of a page.
    """
    share = abs(signed_area(one.quad)) / (expected.width_px * expected.height_px)
    if set(kinds) <= PAGE_KINDS:
        return share > 0.5 and one.shape > 0.6
    if one.shape < 0.6:
        return False
    if expected.px_per_mm is not None and one.shape > (0.8 if _has_page_size(expected) else 0.7):
        return True
    wide, high = side_lengths(one.quad)
    sizes_fit = any(
        max(abs(math.log(wide / scale / w)), abs(math.log(high / scale / h))) < 0.05
        for scale in _whole_scales(expected)
        for w, h in expected.sizes_mm
    )
    return share > 0.3 or sizes_fit


def _square_pixels(picture: Picture) -> bool:
    return picture.dpi is None or abs(picture.dpi[0] / picture.dpi[1] - 1) < 0.02


# --- one item ----------------------------------------------------------------------------------


def _make_item(
    task: ScanTask,
    picture: Picture,
    outline: _Outline,
    *,
    number: int,
    override: ItemOverride,
    expected: Expected,
    reader: ItemReader | None,
) -> Item:
    quad, turn = _turned(outline, override)
    sized = _sized(quad, outline, task, override, expected)
    kinds = () if override.kind is not None else task.kinds or tuple(Kind)
    given = turn is not None
    if turn is None:
        quad, sized, turn = recognise(picture.pixels, quad, sized, kinds, expected)
    reading = None
    if reader is not None:
        reading = _read(reader, picture, quad, sized, kinds=kinds, turn=turn, given=given)
        quad, sized, turn = _as_read(
            reading, quad, sized, turn=turn, expected=expected, kinds=kinds, given=given
        )
    dpi = result_dpi(quad, sized.size_mm)
    tone: Tone = override.tone or task.tone
    subject = f"{task.name}#{picture.page}.{number}"
    image = rectify(picture.pixels, quad, size_mm=sized.size_mm, dpi=dpi)
    grey = set_tone(image, kind=sized.kind, tone="grey", dpi=dpi)
    part = seen_part(image, quad, width_px=picture.width_px, height_px=picture.height_px)
    toned = grey if part is image else set_tone(part, kind=sized.kind, tone="grey", dpi=dpi)
    blank = is_blank(toned, kind=sized.kind, dpi=dpi)
    findings: list[Finding] = []
    if outline.whole:
        findings.append(not_found_finding(subject, plausible=outline.plausible, kinds=task.kinds))
    else:
        far = cut_off_mm(
            quad, sized.size_mm, width_px=picture.width_px, height_px=picture.height_px
        )
        if far > limit_for("cut-off").limit or outline.cut:
            findings.append(cut_off_finding(subject, far))
    findings += size_findings(sized, subject=subject, flat=not expected.perspective)
    findings += picture_findings(
        part,
        toned,
        subject=subject,
        picture=picture,
        dpi=dpi,
        source_dpi=source_dpi(quad, sized.size_mm),
        blank=blank,
        kind=sized.kind,
    )
    item = Item(
        scan=task.name,
        page=picture.page,
        item=number,
        kind=sized.kind,
        corners_px=_as_quad(quad),
        turn_deg=turn,
        skew_deg=_rest_angle(quad, turn),
        size_mm=sized.size_mm,
        measured_mm=sized.measured_mm,
        dpi=dpi,
        tone=tone,
        blank=blank,
        margins_clear_mm=margins_clear_mm(grey, dpi=dpi)
        if sized.kind in PAGE_KINDS
        else (0.0, 0.0, 0.0, 0.0),
        kind_from_user=override.kind is not None,
        findings=tuple(findings),
        fingerprint=b"" if blank else fingerprint(toned, kind=sized.kind),
        reading=reading,
    )
    if not task.encode and not task.preview:
        return item
    final = grey if tone == "grey" else set_tone(image, kind=sized.kind, tone=tone, dpi=dpi)
    return replace(
        item,
        image=_encoded(final, tone, task, dpi) if task.encode else None,
        preview=preview_jpeg(final) if task.preview else b"",
    )


def _read(
    reader: ItemReader,
    picture: Picture,
    quad: Quads,
    sized: Sized,
    *,
    kinds: Sequence[Kind],
    turn: Turn | None,
    given: bool,
) -> Reading:
    dpi = result_dpi(quad, sized.size_mm)
    return reader(
        ReadRequest(
            pixels=rectify(picture.pixels, quad, size_mm=sized.size_mm, dpi=dpi),
            dpi=dpi,
            size_mm=sized.size_mm,
            kind=sized.kind,
            kinds=tuple(kinds),
            turned=turn is not None,
            turn_given=given,
        )
    )


def _as_read(
    reading: Reading,
    quad: Quads,
    sized: Sized,
    *,
    turn: Turn | None,
    expected: Expected,
    kinds: Sequence[Kind],
    given: bool,
) -> tuple[Quads, Sized, Turn | None]:
    """Outline, kind, size and turn as the text tells; what the user gave stays."""
    kind = reading.kind
    if kind is not None and kind in kinds and kind is not sized.kind:
        sized = size_as_kind(quad, kind, expected)
    more = reading.turn_deg
    if given or more is None:
        return quad, sized, turn
    if more:
        quad = np.roll(quad, more // 90, axis=0)
        sized = sized.turned() if more % 180 else sized
    return quad, sized, _turn_of(-90.0 * (((turn or 0) + more) // 90))


def _turned(outline: _Outline, override: ItemOverride) -> tuple[Quads, Turn | None]:
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
    outline: _Outline,
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
