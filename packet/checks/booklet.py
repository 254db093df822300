"""A passport counted in faces: is the whole book there?

A face is one printed side of the book. A book of N numbered pages has N + 4: the pages, two
outer and two inner sides of the cover (``packet.rules.booklet.faces``).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from packet.model import DocumentSpec, Finding, Item, Kind, Passport, Severity
from packet.rules.booklet import faces, opening_scans
from packet.rules.sizes import card_size_mm

_SINGLE = frozenset({Kind.PASSPORT_PAGE, Kind.VISA_PAGE})


def faces_of(item: Item) -> int:
    """Faces that one item shows: an opening or a cover laid open 2, a page or one cover 1.

    Items that belong to no passport book show 0. A cover counts as laid open when its long
    side exceeds that of one closed ID-3 page (ISO/IEC 7810: 125 mm) by a fifth.
    """
    if item.kind is Kind.PASSPORT_SPREAD:
        return 2
    if item.kind in _SINGLE:
        return 1
    if item.kind is Kind.PASSPORT_COVER:
        return 2 if max(item.size_mm) > 1.2 * card_size_mm("id-3")[0] else 1
    return 0


def count_faces(items: Iterable[Item]) -> int:
    """Faces that the items show together; a picture that is there twice counts once."""
    seen: dict[object, int] = {}
    for item in items:
        key = item.subject if item.image is None else item.image.digest
        seen.setdefault(key, faces_of(item))
    return sum(seen.values())


def check_booklet(
    passport: Passport, spec: DocumentSpec, items: tuple[Item, ...]
) -> Iterator[Finding]:
    """``missing-openings`` where the faces scanned are not those of the whole book.

    ``booklet-pages-missing`` where the length of the book was never given.
    Nothing is said when the user copies written pages only (``passport.pages``).
    """
    if passport.pages == "written":
        return
    if passport.booklet_pages is None:
        yield _pages_not_given()
        return
    found = count_faces(items)
    wanted = faces(passport.booklet_pages)
    if found < wanted:
        yield _too_few(passport.booklet_pages, spec, found, wanted)
    elif found > wanted:
        yield _too_many(passport.booklet_pages, spec, found, wanted)


def _pages_not_given() -> Finding:
    return Finding(
        code="booklet-pages-missing",
        severity=Severity.WARNING,
        subject="passport.booklet_pages",
        message=(
            "The number of pages of the passport is not given: "
            "whether all of it was scanned is not known."
        ),
        remedy=(
            "Write the number printed on its last numbered page as booklet_pages under "
            "[passport] in packet.toml."
        ),
    )


def _too_few(pages: int, spec: DocumentSpec, found: int, wanted: int) -> Finding:
    return Finding(
        code="missing-openings",
        severity=Severity.ERROR,
        subject=f"{spec.folder}/",
        message=(
            f"The scans show {found} of the passport's {wanted} sides "
            f"({pages} pages and the four sides of its cover)."
        ),
        measured=found,
        limit=wanted,
        unit="sides",
        remedy=(
            f"Scan every opening, blank ones too, and the cover laid open: "
            f"{opening_scans(pages)} scans. If your office asks for written pages only, set "
            'pages = "written" under [passport] in packet.toml.'
        ),
        source=spec.source,
    )


def _too_many(pages: int, spec: DocumentSpec, found: int, wanted: int) -> Finding:
    return Finding(
        code="missing-openings",
        severity=Severity.WARNING,
        subject=f"{spec.folder}/",
        message=(
            f"The scans show {found} sides of the passport; a book of {pages} pages has {wanted} "
            "with the four sides of its cover. Something is there twice, an opening was taken "
            "apart, or the number of pages is wrong."
        ),
        measured=found,
        limit=wanted,
        unit="sides",
        remedy=(
            "Look at every picture. Leave out what is there twice, or set the kind or the corners "
            "of what was taken apart, under [[item]] in packet.toml; or correct booklet_pages "
            "under [passport]."
        ),
        source=spec.source,
    )
