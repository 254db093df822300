"""Measured values to findings: what is wrong with an item, how much, and what to do."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from packet.imaging.blemishes import covered_mm, ground_of, shadow_percent
from packet.imaging.flat import Flat
from packet.imaging.geometry import Pixels, Quads
from packet.imaging.limits import limit_for
from packet.imaging.quality import EDGE_SHARE, PASSPORT_PAPER, edge_width_mm, glare_mm
from packet.imaging.rectify import source_dpi
from packet.imaging.sizing import Sized
from packet.intake.picture import Picture
from packet.model import Finding, Kind, Severity, SizeMm

_BOOKLET = {Kind.PASSPORT_COVER, Kind.PASSPORT_SPREAD, Kind.PASSPORT_PAGE, Kind.VISA_PAGE}

_SIZE_NOT_GIVEN = "Measure the item; give kind or size_mm for it in packet.toml if it is wrong."
_SIZE_GIVEN = (
    "Measure the item again and correct size_mm in packet.toml; if it is right as it is, list "
    '"size-mismatch" under accept there.'
)
_FAINT_PRINT = 1.6
"""Times the limit: on drawn photos sharp edges of background print alone measure up to 0.63 mm."""
_NO_FINGERS = 0.2
"""Of the short side, along each edge of a blank page: so far fingers reach that hold it."""


def make_finding(
    code: str,
    subject: str,
    message: str,
    *,
    severity: Severity = Severity.WARNING,
    measured: float | None = None,
    remedy: str,
) -> Finding:
    """A finding whose limit, unit and source come from rules/quality.toml where it has one."""
    try:
        limit = limit_for(code)
    except KeyError:
        return Finding(
            code=code, severity=severity, subject=subject, message=message, remedy=remedy
        )
    return Finding(
        code=code,
        severity=severity,
        subject=subject,
        message=message,
        measured=None if measured is None else round(measured, 2),
        limit=limit.limit,
        unit=limit.unit,
        remedy=remedy,
        source=limit.source,
    )


def resolution_findings(flat: Flat, *, subject: str) -> Iterator[Finding]:
    """Too few pixels for a legible copy."""
    fine = source_dpi(flat.quad, flat.size_mm)
    if fine < limit_for("low-resolution").limit:
        yield make_finding(
            "low-resolution",
            subject,
            f"The scan holds only {fine:.0f} pixels per inch of this item.",
            measured=fine,
            remedy="Scan it at 300 dpi, or photograph it from nearer.",
        )


def blur_findings(
    flat: Flat, part: Pixels, *, subject: str, blank: bool, kind: Kind
) -> Iterator[Finding]:
    """Edges that are not sharp. ``part``: the flat grey, the picture's outside set aside.

    On plain paper that seems blank any edge counts that is none of a finger: print may be so
    blurred that nothing is read.
    """
    tinted = kind in PASSPORT_PAPER
    rim = _NO_FINGERS if blank and not tinted else EDGE_SHARE
    width = edge_width_mm(part, flat, written=not (blank and tinted), rim=rim)
    if width is None or width <= limit_for("blurred").limit * (_FAINT_PRINT if blank else 1.0):
        return
    yield make_finding(
        "blurred",
        subject,
        f"The copy is not sharp: its edges are {width:.2f} mm wide.",
        measured=width,
        remedy="Scan it again: hold the phone still, let it focus, or use a flatbed.",
    )


def light_findings(
    part: Pixels,
    grey: Pixels,
    *,
    dpi: float,
    subject: str,
    picture: Picture,
    kind: Kind,
) -> Iterator[Finding]:
    """What comes between camera and paper; the first that is seen, for each spoils the next.

    ``part``: the item's grey, (h, w), the picture's outside set aside; ``grey``: the same with its
    tone set; ``dpi``: of both.
    """
    if picture.source not in {"camera", "unknown"}:
        return
    patch = glare_mm(part, dpi=dpi)
    if patch is not None and patch > limit_for("glare").limit:
        yield make_finding(
            "glare",
            subject,
            f"A reflection of light covers a patch {patch:.0f} mm wide.",
            measured=patch,
            remedy="Take it again without flash, with the light from the side.",
        )
        return
    ground = ground_of(grey, dpi=dpi)
    far = covered_mm(ground)
    if far > limit_for("covered").limit:
        yield make_finding(
            "covered",
            subject,
            f"Something, perhaps a finger, lies {far:.0f} mm over its edge.",
            measured=far,
            remedy="If it hides print, take it again and hold the paper by its outer rim.",
        )
        return
    darker = shadow_percent(ground, fold=kind is Kind.PASSPORT_SPREAD)
    if darker > limit_for("shadow").limit:
        yield make_finding(
            "shadow",
            subject,
            f"A shadow stays on the copy: {darker:.0f} % darker than the paper.",
            measured=darker,
            remedy="Take it again with nothing between the light and the paper.",
        )


def blank_finding(subject: str, kind: Kind) -> Finding:
    """A blank passport page is a note (it is copied all the same), another blank page a warning."""
    booklet = kind in _BOOKLET
    return make_finding(
        "blank",
        subject,
        "Nothing is written on this page" + ("; it is copied all the same." if booklet else "."),
        severity=Severity.NOTE if booklet else Severity.WARNING,
        remedy=""
        if booklet
        else "Leave it out with leave_out = true in packet.toml if it is not wanted.",
    )


def size_findings(sized: Sized, *, subject: str, flat: bool) -> Iterator[Finding]:
    """``size-mismatch`` on a flatbed scan; a word where the true size is not known at all."""
    if sized.basis == "a4":
        yield Finding(
            code="size-unknown",
            severity=Severity.WARNING,
            subject=subject,
            message="The true size of this item is not known; it was fitted to A4.",
            remedy="Give size_mm for it in packet.toml, or scan it on a flatbed.",
        )
    if not flat or sized.measured_mm is None or sized.basis == "dpi":
        return
    miss = worst_miss_percent(sized.measured_mm, sized.size_mm)
    most = limit_for("size-mismatch").limit
    if miss > most:
        wide, high = sized.measured_mm
        yield make_finding(
            "size-mismatch",
            subject,
            f"By the scan's resolution this item measures {wide:.1f} x {high:.1f} mm, but it is "
            f"copied at {sized.size_mm[0]:.1f} x {sized.size_mm[1]:.1f} mm: it differs by "
            f"{miss:.2f} %, more than {most:g} %.",
            measured=miss,
            remedy=_SIZE_GIVEN if sized.basis == "given" else _SIZE_NOT_GIVEN,
        )


def worst_miss_percent(measured_mm: SizeMm, size_mm: SizeMm) -> float:
    """How far the measured size lies from the nominal, on the worse side."""
    return max(abs(measured_mm[k] / size_mm[k] - 1) * 100 for k in (0, 1))


def cut_off_mm(quad: Quads, size_mm: SizeMm, *, width_px: int, height_px: int) -> float:
    """How far the item's corners lie outside the picture."""
    low = np.array([-0.5, -0.5]) - quad
    high = quad - np.array([width_px - 0.5, height_px - 0.5])
    outside = float(np.maximum(low, high).max())
    scale = float(np.linalg.norm(quad[1] - quad[0])) / size_mm[0]
    return max(0.0, outside / max(scale, 1e-9))


def cut_off_finding(subject: str, far_mm: float) -> Finding:
    """The item reaches over the edge of the picture."""
    return make_finding(
        "cut-off",
        subject,
        "A part of this item lies outside the picture.",
        measured=far_mm,
        remedy="Scan it again with all its edges on the glass, or in the photo.",
    )


def mirrored_finding(subject: str) -> Finding:
    """Its lines begin where, by its letters, they should end."""
    return Finding(
        code="mirrored",
        severity=Severity.WARNING,
        subject=subject,
        message="This seems to be shown in a mirror: its lines begin at the right.",
        remedy="Scan it again without the mirror setting of the camera or scanner; if it is "
        'written from right to left, list "mirrored" under accept in packet.toml.',
    )


def not_found_finding(subject: str, *, plausible: bool) -> Finding:
    """The whole picture is used: a note where it may well be the page itself."""
    if plausible:
        return Finding(
            code="not-found",
            severity=Severity.NOTE,
            subject=subject,
            message="No edge was found inside the picture: the whole picture is used as the page.",
        )
    return Finding(
        code="not-found",
        severity=Severity.WARNING,
        subject=subject,
        message="No document could be found with confidence: the whole picture is used.",
        remedy="Scan it again with all its edges in the picture, on a plain ground of another "
        "colour, or give its corners.",
    )
