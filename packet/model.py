"""The values that flow between the rooms: frozen, slotted, keyword-only.

Geometry: ``*_px`` are pixels of the picture after its EXIF orientation has been applied, centres
on integers; ``*_mm`` on a page lie from the top left of the A4 page. x to the right, y down.
Fields that hold a person's data are kept out of ``repr``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from packet.spool import Blob

if TYPE_CHECKING:
    from packet.readings import Reading

Point = tuple[float, float]
Quad = tuple[Point, Point, Point, Point]
SizeMm = tuple[float, float]
RectMm = tuple[float, float, float, float]  # x, y, width, height
Turn = Literal[0, 90, 180, 270]
Tone = Literal["grey", "colour", "bilevel"]
Need = Literal["required", "if-held"]
CopiesPrinted = Literal["one-sided", "two-sided"]
HEAP_FOLDER = "scans"  # scans dropped together, which packet sort assigns to documents
FINGERPRINT_SIZE = (352, 250)  # two bits a millimetre of an opening (176 x 125)


class Kind(StrEnum):
    """Kinds of item (what one outline on a scan is)."""

    PASSPORT_COVER = "passport-cover"
    PASSPORT_SPREAD = "passport-spread"
    PASSPORT_PAGE = "passport-page"
    VISA_PAGE = "visa-page"
    ID_CARD_FRONT = "id-card-front"
    ID_CARD_BACK = "id-card-back"
    PERMIT_FRONT = "permit-front"
    PERMIT_BACK = "permit-back"
    TAX_CARD_FRONT = "tax-card-front"
    TAX_CARD_BACK = "tax-card-back"
    A4_PAGE = "a4-page"
    LETTER_PAGE = "letter-page"
    FORM_PAGE = "form-page"
    OTHER = "other"


class Severity(StrEnum):
    """How much a finding matters: error and warning need the user, a note does not."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing the user should know, with what to do about it.

    ``subject``: ``folder/file#page.item`` (page and item where they apply) or a packet.toml key.
    ``accepted``: the user has looked at it and lists its code under ``accept``.
    """

    code: str
    severity: Severity
    subject: str
    message: str
    measured: float | None = None
    limit: float | None = None
    unit: str | None = None
    remedy: str = ""
    source: str = ""
    accepted: bool = False

    @property
    def needs_user(self) -> bool:
        """True for an error or warning that the user has not accepted."""
        return self.severity is not Severity.NOTE and not self.accepted


# --- rule sets and packet.toml -------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class DocumentSpec:
    """A document that the packet should hold: one sub-folder, one section of the index.

    ``kinds``: what items may be in it, the likeliest first. ``scan_note``: English words for
    SCAN-ME.txt. ``two_sides``: a card whose both sides are wanted.
    """

    folder: str
    title_it: str
    title_en: str
    kinds: tuple[Kind, ...]
    need: Need
    in_envelope: bool = True
    two_sides: bool = False
    identity: bool = False  # of one person alone: the same scan never belongs to two packets
    scan_note: str = ""
    source: str = ""
    as_of: date | None = None
    renewable: bool = True  # may be carried into a renewal packet while it is still valid
    renewal_note: str = ""  # English: what to check or scan anew at a renewal, and why


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleSet:
    """What one kind of application asks for; ``form`` is the application form's own document."""

    name: str
    title_it: str
    title_en: str
    documents: tuple[DocumentSpec, ...]
    form: DocumentSpec
    form_pages: Mapping[int, int]  # module number -> printed pages
    source: str
    as_of: date
    is_renewal: bool = False
    reason_code: str = ""  # of the permit asked for, in table 2 of the kit; "" = not known
    reason_source: str = ""
    fee_bands: tuple[str, ...] = ()  # bands of rules/fees.toml that may apply; () = any


@dataclass(frozen=True, slots=True, kw_only=True)
class Applicant:
    """The person, exactly as in the passport; an empty string is a value not given."""

    surname: str = field(default="", repr=False)
    given_names: str = field(default="", repr=False)
    sex: str = field(default="", repr=False)
    civil_status: str = field(default="", repr=False)
    date_of_birth: date | None = field(default=None, repr=False)
    place_of_birth: str = field(default="", repr=False)
    country_of_birth: str = field(default="", repr=False)
    citizenship: str = field(default="", repr=False)
    tax_code: str = field(default="", repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Passport:
    """The passport and how it is copied; ``booklet_pages`` None = not given."""

    number: str = field(default="", repr=False)
    expires: date | None = field(default=None, repr=False)
    booklet_pages: int | None = None
    pages: Literal["all", "written"] = "all"
    openings_per_sheet: Literal[1, 2] = 1
    issued_by: Literal["", "own-state", "consulate-abroad", "consulate-italy"] = ""
    mrz: tuple[str, ...] = field(default=(), repr=False)  # the machine-readable lines, as typed


@dataclass(frozen=True, slots=True, kw_only=True)
class Visa:
    """The visa sticker's fields, as printed."""

    number: str = field(default="", repr=False)
    type: str = field(default="", repr=False)
    purpose: str = field(default="", repr=False)
    valid_from: date | None = field(default=None, repr=False)
    valid_to: date | None = field(default=None, repr=False)
    duration_days: int | None = field(default=None, repr=False)
    entries: str = field(default="", repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """Day and place of entry, from the entry stamp.

    ``local_holidays``: further days that do not count as working days (a patron saint's day).
    """

    local_holidays: tuple[date, ...] = field(default=(), repr=False)
    date: date | None = field(default=None, repr=False)
    border: str = field(default="", repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """Where the applicant lives in Italy.

    ``province_seat``: the town of the police office (questura) that the application goes to.
    """

    province: str = field(default="", repr=False)
    province_seat: str = field(default="", repr=False)
    town: str = field(default="", repr=False)
    street: str = field(default="", repr=False)
    house_number: str = field(default="", repr=False)
    postcode: str = field(default="", repr=False)
    email: str = field(default="", repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Permit:
    """The permit held when the application is made (renewal). ``first_issued``: the first one's
    day of issue, from which the five years are counted.
    """

    number: str = field(default="", repr=False)
    type_code: str = field(default="", repr=False)
    expires: date | None = field(default=None, repr=False)
    first_issued: date | None = field(default=None, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class NewPermit:
    """The permit that this application brought; empty until it is in the hand."""

    number: str = field(default="", repr=False)
    type_code: str = field(default="", repr=False)
    issued: date | None = field(default=None, repr=False)
    expires: date | None = field(default=None, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Appointment:
    """When and where the police office wants to see the applicant; ``time``: HH:MM or ""."""

    date: date | None = field(default=None, repr=False)
    time: str = field(default="", repr=False)
    place: str = field(default="", repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Receipt:
    """What came back at the counter. The two codes are never printed."""

    date: date | None = field(default=None, repr=False)
    user_id: str = field(default="", repr=False)
    password: str = field(default="", repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class FormChoice:
    """Which forms are filled in; ``copied_by_hand``: the user copies the form elsewhere.

    ``box_22``: how the box that asks which forms were filled in is answered, "" = not chosen.
    ``cells``: box -> cells that the user counted on the form in the hand.
    """

    modules: tuple[int, ...] = (1,)
    copied_by_hand: bool = False
    box_22: Literal["", "number", "crosses"] = ""
    cells: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class CountChoice:
    """The terms of the box number that the user decides.

    ``form_leaves_confirmed``: packet.toml sets form_leaves (it was counted in the hand).
    """

    form_leaves: int = 4
    form_leaves_confirmed: bool = False
    copies_printed: CopiesPrinted = "one-sided"
    index_in_envelope: bool = False
    extra_leaves: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderEntry:
    """One line of ``[order]``: a file, or a page of it, or one item of that page."""

    file: str
    page: int | None = None
    item: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemOverride:
    """One ``[[item]]`` table: where the user overrules the automatic result."""

    scan: str
    page: int = 1
    item: int = 1
    turn: Turn | None = None
    corners: Quad | None = None
    kind: Kind | None = None
    size_mm: SizeMm | None = None
    document: str | None = None
    leave_out: bool = False
    tone: Tone | None = None
    accept: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Packet:
    """packet.toml, read and checked.

    ``documents``: the rule set's documents, then the user's own ``[[document]]`` ones; the form
    is ``rule_set.form``. ``values_digest``: SHA-256 (hex) of every value that build and count
    read, so that a changed value is seen and a changed comment is not.
    """

    root: Path = field(repr=False)
    rule_set: RuleSet
    documents: tuple[DocumentSpec, ...]
    not_held: tuple[str, ...] = ()
    applicant: Applicant = Applicant()
    passport: Passport = Passport()
    visa: Visa = Visa()
    entry: Entry = Entry()
    address: Address = Address()
    permit: Permit = Permit()
    new_permit: NewPermit = NewPermit()
    appointment: Appointment = Appointment()
    receipt: Receipt = Receipt()
    valid_until: Mapping[str, date] = field(default_factory=dict, repr=False)  # folder -> last day
    made_from: str = ""  # path of the packet that this one renews, as seen from beside this one
    fee_table: str = ""  # a TOML file of the user's own, else the package's table
    form: FormChoice = FormChoice()
    count: CountChoice = CountChoice()
    order: Mapping[str, tuple[OrderEntry, ...]] = field(default_factory=dict)
    overrides: tuple[ItemOverride, ...] = ()
    values_digest: str = ""

    @property
    def heap(self) -> str:
        """The folder of scans to sort; "" where a document has that name."""
        taken = {spec.folder.casefold() for spec in self.documents}
        return "" if HEAP_FOLDER in taken else HEAP_FOLDER

    @property
    def scan_folders(self) -> tuple[str, ...]:
        """Where scans may lie: the documents' folders, the form's, the heap."""
        named = (*(spec.folder for spec in self.documents), self.rule_set.form.folder)
        return (*named, self.heap) if self.heap else named


# --- scans and items -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Scan:
    """One file of a packet. ``name``: path inside the packet, ``/`` between parts."""

    name: str
    path: Path = field(repr=False)
    folder: str
    digest: str  # SHA-256 of the file's bytes, hex
    size_bytes: int
    stamp: tuple[int, ...] = field(default=(), repr=False, compare=False)  # files.stamped_digest


@dataclass(frozen=True, slots=True, kw_only=True)
class EncodedImage:
    """An upright, true-scale picture, encoded once; no metadata inside.

    ``data``: JPEG, PNG or Group 4 TIFF bytes. ``digest``: SHA-256 of ``data``, hex.
    """

    data: Blob = field(repr=False)
    format: Literal["jpeg", "png", "tiff"]
    width_px: int
    height_px: int
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VectorPage:
    """A born-digital PDF page, cleaned, kept as vectors: a PDF of exactly one page.

    ``size_mm``: as a viewer shows it. ``digest``: SHA-256 of ``pdf_bytes``, hex.
    """

    pdf_bytes: Blob = field(repr=False)
    size_mm: SizeMm
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One thing on a scan, as it will be printed.

    ``corners_px``: clockwise, the first is the item's top-left when held upright.
    ``turn_deg``: clockwise turn that makes the picture upright, None when unsure.
    ``size_mm``: (width, height) upright, as printed. ``measured_mm``: from a trusted dpi.
    ``dpi``: of the result (the source's where less than 300). ``image``: None when only found.
    ``margins_clear_mm``: without content at the (left, top, right, bottom) edge, of pages.
    """

    scan: str
    page: int
    item: int
    kind: Kind
    corners_px: Quad
    turn_deg: Turn | None
    skew_deg: float
    size_mm: SizeMm
    measured_mm: SizeMm | None
    dpi: float
    tone: Tone = "grey"
    image: EncodedImage | VectorPage | None = field(default=None, repr=False)
    blank: bool = False
    margins_clear_mm: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    kind_from_user: bool = False
    findings: tuple[Finding, ...] = ()
    preview: Blob = field(default=b"", repr=False)  # small JPEG of the result, for the review
    fingerprint: bytes = field(default=b"", repr=False)  # map of the ink, FINGERPRINT_SIZE bits
    reading: Reading | None = field(default=None, repr=False)  # of its text, where that was read
    picture_turn_deg: Turn = 0  # clockwise turn that image and preview still need to be upright

    @property
    def subject(self) -> str:
        """``folder/file#page.item``, the name findings use."""
        return f"{self.scan}#{self.page}.{self.item}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PageResult:
    """One page of a scan after the imaging room: its size and its items, top to bottom."""

    scan: str
    page: int
    width_px: int
    height_px: int
    items: tuple[Item, ...]
    findings: tuple[Finding, ...] = ()
    preview: Blob = field(default=b"", repr=False)  # small JPEG of the source, for the review


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanTask:
    """What a worker is told about one scan. ``kinds``: what may be on it, likeliest first."""

    path: Path = field(repr=False)
    name: str
    kinds: tuple[Kind, ...]
    tone: Tone = "grey"
    overrides: tuple[ItemOverride, ...] = ()
    encode: bool = True  # False: find and judge only
    small: bool = False  # True: judge on a small picture, where no print is made (packet inspect)
    lossless: bool = False  # True: PNG with its dpi set, for `packet normalise`
    preview: bool = False  # True: small JPEGs of the page and of each item, for the review
    read: bool = False  # True: read the text of each item, where the reading extra is installed
    password: str | None = field(default=None, repr=False)


# --- sheets --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """One item on an A4 page. ``scale`` is 1 unless the item is larger than the page;
    ``turn_deg``: clockwise turn of the item's picture; ``rect_mm`` is what it then covers.
    """

    item: Item
    rect_mm: RectMm
    scale: float = 1.0
    turn_deg: Turn = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedPage:
    """One printed side of A4. ``page``/``pages``: its place in its document, from 1.

    ``copy_page``/``copy_pages``: its place in the envelope set, None outside it.
    ``footer``: False where the bottom 10 mm are not empty.
    """

    folder: str
    placements: tuple[Placement, ...]
    page: int
    pages: int
    copy_page: int | None = None
    copy_pages: int | None = None
    footer: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class DocumentPages:
    """The printed pages of one document, in order (never empty backs: those are the sets')."""

    spec: DocumentSpec
    pages: tuple[PrintedPage, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CopyPlan:
    """All pages of a packet before they are written.

    ``documents``: those with at least one page, in printing order; the form is apart.
    ``missing``: wanted and not there, for the index. ``mark``: four signs, nothing personal.
    """

    documents: tuple[DocumentPages, ...]
    form: DocumentPages | None
    missing: tuple[DocumentSpec, ...]
    mark: str
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DocumentCount:
    """Pages with content and sheets of one document in the envelope set."""

    folder: str
    kind: str
    title: str
    pages: int
    sheets: int
    title_en: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherReading:
    """What another reading of the box, met in guides, would give."""

    reading: Literal["copies-only", "form-one-sided", "slip-counted"]
    box: int
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetCount:
    """Every term of the box that asks for the total of sheets (box 25)."""

    box: int
    form_leaves: int
    envelope_pages: int
    blank_backs: int
    envelope_sheets: int
    index_leaves: int
    extra_leaves: int
    other_readings: tuple[OtherReading, ...]
    documents: tuple[DocumentCount, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One disagreement found by the recount, with what to do."""

    what: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Recount:
    """What the recount says. ``tick``: (title, pages, sheets) to thumb through the paper.

    ``complete``: False where the build lacked something: ``missing`` says what, and the packet is
    not to be handed over, even where files, scans and number agree. ``notes``: what is right, or
    no reason to wait.
    """

    agrees: bool
    box: int | None
    differences: tuple[Difference, ...]
    complete: bool = True
    missing: tuple[Difference, ...] = ()
    notes: tuple[str, ...] = ()
    tick: tuple[tuple[str, int, int], ...] = ()
