"""Where items stand on A4: laws that hold for every packet, and the cases of the trade."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from packet.model import Kind, Passport, Severity
from packet.sheets.layout import FOOTER_ZONE_MM, MARK_SIGNS, lay_out

from .making import DOCUMENTS, FORM, ID_1, PASSPORT, form_items, item, packet, spec, vector
from .making import worked_items as worked

A4 = (210.0, 297.0)  # ISO 216
OPENING = (176.0, 125.0)  # two ID-3 pages, ISO/IEC 7810


def pages_of(items, *, openings=1, kinds=PASSPORT):
    made = packet((kinds,), passport=Passport(booklet_pages=28, openings_per_sheet=openings))
    plan = lay_out(made, {kinds.folder: tuple(items)})
    return plan.documents[0].pages, plan


def one(made):
    pages, plan = pages_of([made])
    (page,) = pages
    (place,) = page.placements
    return place, page, plan.findings


# --- laws ----------------------------------------------------------------------------------

anything = st.builds(
    lambda kind, size, clear, number, known: item(
        kind,
        number,
        folder="passport",
        size_mm=size if kind is Kind.OTHER else None,
        image=False if not known else None,
        margins_clear_mm=clear if known else (0.0, 0.0, 0.0, 0.0),
    ),
    st.sampled_from(list(Kind)),
    st.tuples(st.floats(20, 500), st.floats(20, 500)),
    st.tuples(*[st.floats(0, 40)] * 4),
    st.integers(0, 99),
    st.booleans(),
)


@settings(max_examples=150, deadline=None)
@given(st.lists(anything, min_size=1, max_size=12), st.sampled_from([1, 2]))
def test_every_item_once_in_order_inside_the_page_and_apart(items, openings):
    """No overlap, nothing outside the paper, order kept, true size unless larger than A4."""
    pages, plan = pages_of(items, openings=openings)

    placed = [place for page in pages for place in page.placements]
    assert [place.item for place in placed] == items
    for place in placed:
        x, y, width, height = place.rect_mm
        assert min(x, y) >= 0
        assert x + width <= A4[0] + 1e-9
        assert y + height <= A4[1] + 1e-9
        sides = place.item.size_mm if place.turn_deg in (0, 180) else place.item.size_mm[::-1]
        assert (width, height) == pytest.approx([side * place.scale for side in sides], abs=0.51)
        larger = min(sides) > A4[0] or max(sides) > A4[1]
        assert (place.scale < 1) == (larger and place.rect_mm != (0, 0, *A4))
    for page in pages:
        assert len(page.placements) <= 2
        if len(page.placements) == 2:
            (x1, y1, w1, h1), (x2, y2, _, _) = (place.rect_mm for place in page.placements)
            assert x1 + w1 <= x2 or y1 + h1 <= y2
    assert plan == pages_of(items, openings=openings)[1]


@given(st.lists(st.integers(0, 5), min_size=6, max_size=6))
def test_copies_are_numbered_through_the_envelope(sizes):
    """k of K runs over enclosed documents only; i of n starts anew in each document."""
    docs = tuple(spec(f"d{n}", Kind.A4_PAGE, in_envelope=n != 3, need="required") for n in range(6))
    items = {
        f"d{n}": tuple(item(Kind.A4_PAGE, i, folder=f"d{n}", image=False) for i in range(size))
        for n, size in enumerate(sizes)
    }

    plan = lay_out(packet(docs), items)

    pages = [page for document in plan.documents for page in document.pages]
    enclosed = [page for page in pages if page.folder != "d3"]
    assert [page.copy_page for page in enclosed] == list(range(1, len(enclosed) + 1))
    assert {page.copy_pages for page in enclosed} <= {len(enclosed)}
    assert all(page.copy_page is None for page in pages if page.folder == "d3")
    for document in plan.documents:
        assert [page.page for page in document.pages] == [n + 1 for n in range(len(document.pages))]
    assert [doc.folder for doc in plan.missing] == [f"d{n}" for n in range(6) if not sizes[n]]


# --- the passport --------------------------------------------------------------------------


def test_one_opening_a_sheet_centred_and_clear_of_the_footer():
    place, page, findings = one(item(Kind.PASSPORT_SPREAD))

    assert place.rect_mm == ((210 - 176) / 2, 10 + (275 - 125) / 2, *OPENING)
    assert page.footer
    assert not findings


def test_two_openings_a_sheet_by_choice():
    """Two open books fit one A4 upright: 176 <= 210 and 2 x 125 <= 297."""
    pages, _ = pages_of([item(Kind.PASSPORT_SPREAD, n) for n in range(16)], openings=2)

    assert len(pages) == 8
    assert all(page.footer for page in pages)
    assert all(place.scale == 1 for page in pages for place in page.placements)


def test_a_data_page_opening_stands_alone():
    """125 x 176: two of them, one above the other, would need 352 mm."""
    tall = [item(Kind.PASSPORT_SPREAD, n, size_mm=(125.0, 176.0)) for n in (1, 2)]

    pages, _ = pages_of([*tall, item(Kind.PASSPORT_SPREAD, 3)], openings=2)

    assert [len(page.placements) for page in pages] == [1, 1, 1]
    assert all(page.placements[0].turn_deg == 0 for page in pages)


def test_single_covers_share_a_sheet():
    covers = [item(Kind.PASSPORT_COVER, n, size_mm=(88.0, 125.0)) for n in (1, 2)]

    pages, _ = pages_of([*covers, item(Kind.PASSPORT_PAGE, 3), item(Kind.PASSPORT_PAGE, 4)])

    assert [len(page.placements) for page in pages] == [2, 1, 1]
    left, right = (place.rect_mm for place in pages[0].placements)
    assert left[1] == right[1]
    assert right[0] - left[0] - left[2] == 10


# --- cards ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("front", "back"),
    [
        (Kind.ID_CARD_FRONT, Kind.ID_CARD_BACK),
        (Kind.PERMIT_FRONT, Kind.PERMIT_BACK),
        (Kind.TAX_CARD_FRONT, Kind.TAX_CARD_BACK),
    ],
)
@pytest.mark.parametrize("size", [ID_1, (105.0, 74.0), (125.0, 88.0)], ids=["id1", "id2", "id3"])
def test_front_and_back_of_a_card_on_one_sheet(front, back, size):
    pages, _ = pages_of([item(front, 1, size_mm=size), item(back, 2, size_mm=size)])

    (page,) = pages
    above, below = page.placements
    assert above.item.kind is front
    assert above.rect_mm[2:] == below.rect_mm[2:] == size
    assert above.rect_mm[1] + size[1] + 10 == pytest.approx(below.rect_mm[1])


def test_sides_of_different_cards_do_not_mix():
    pages, _ = pages_of([item(Kind.ID_CARD_FRONT, 1), item(Kind.TAX_CARD_BACK, 2)])

    assert len(pages) == 2


# --- pages ---------------------------------------------------------------------------------


def test_a4_goes_edge_to_edge():
    place, page, findings = one(item(Kind.A4_PAGE))

    assert place.rect_mm == (0, 0, *A4)
    assert page.footer
    assert not findings


def test_a4_in_whole_points_is_a4():
    """595 x 842 pt, as many programs round it, is 209.90 x 297.04 mm."""
    place, _, _ = one(item(Kind.A4_PAGE, size_mm=(595 / 72 * 25.4, 842 / 72 * 25.4)))

    assert place.rect_mm == (0, 0, *A4)
    assert place.scale == 1


def test_landscape_a4_is_turned():
    place, _, _ = one(item(Kind.A4_PAGE, size_mm=(297.0, 210.0)))

    assert place.rect_mm == (0, 0, *A4)
    assert place.turn_deg == 270


def test_us_letter_is_reduced_and_says_so():
    """210 / 215.9 = 97.27 % (ISO 216 width over ANSI/ASME Y14.1 width)."""
    place, page, findings = one(item(Kind.LETTER_PAGE))

    assert place.scale == pytest.approx(0.9727, abs=5e-5)
    assert place.rect_mm[2:] == pytest.approx((210.0, 271.76), abs=0.01)
    assert page.footer
    (reduced,) = findings
    assert (reduced.code, reduced.severity) == ("reduced", Severity.NOTE)
    assert reduced.message == "The page is wider than A4: printed at 97.27 %."
    assert (reduced.measured, reduced.limit) == (None, None)


def test_a3_is_reduced_with_a_warning():
    place, _, findings = one(item(Kind.OTHER, size_mm=(297.0, 420.0)))

    assert place.scale < 0.71
    assert findings[0].severity is Severity.WARNING
    assert findings[0].code == "reduced"


def test_a5_keeps_its_size():
    place, _, findings = one(item(Kind.OTHER, size_mm=(148.0, 210.0)))

    assert place.rect_mm[2:] == (148.0, 210.0)
    assert not findings


# --- edges ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("clear", "edge"), [((3.0, 9, 9, 20), 3.0), ((9, 1.25, 9, 20), 1.2), ((9, 9, 9, 0.0), 0.0)]
)
def test_content_near_the_edge_is_told(clear, edge):
    _, _, findings = one(item(Kind.A4_PAGE, margins_clear_mm=clear))

    (near,) = findings
    assert (near.code, near.measured, near.limit, near.unit) == ("near-edge", edge, 4.0, "mm")


@pytest.mark.parametrize(("bottom", "printed"), [(9.9, False), (10.0, True)])
def test_the_footer_needs_ten_empty_millimetres(bottom, printed):
    _, page, _ = one(item(Kind.A4_PAGE, margins_clear_mm=(9, 9, 9, bottom)))

    assert FOOTER_ZONE_MM == 10
    assert page.footer is printed


def test_margins_turn_with_the_page():
    """A landscape page is turned anticlockwise: its left margin comes to the foot."""
    clear = (20.0, 9.0, 9.0, 1.0)

    _, page, findings = one(item(Kind.A4_PAGE, size_mm=(297.0, 210.0), margins_clear_mm=clear))

    assert page.footer
    assert findings[0].measured == 1.0


def test_a_born_digital_page_keeps_the_rules_of_any_page():
    made = item(Kind.A4_PAGE, image=vector(), margins_clear_mm=(20.0, 20.0, 20.0, 12.0))
    assert one(made)[1].footer

    _, page, findings = one(replace(made, margins_clear_mm=(0.0, 0.0, 0.0, 0.0)))

    assert not page.footer
    assert [finding.code for finding in findings] == ["near-edge"]


def test_no_warning_without_a_measurement():
    made = item(Kind.A4_PAGE, image=None, margins_clear_mm=(0.0, 0.0, 0.0, 0.0))

    _, page, findings = one(made)

    assert not page.footer
    assert not findings


def test_a_blank_page_has_nothing_to_lose():
    _, _, findings = one(item(Kind.A4_PAGE, blank=True, margins_clear_mm=(0.0, 0.0, 0.0, 0.0)))

    assert not findings


# --- the plan ------------------------------------------------------------------------------


def test_documents_keep_the_packets_order_and_the_form_stands_apart():
    plan = lay_out(packet(), worked() | form_items())

    assert [document.spec for document in plan.documents] == list(DOCUMENTS)
    assert plan.form is not None
    assert plan.form.spec is FORM
    assert len(plan.form.pages) == 8
    assert plan.form.pages[0].copy_page is None
    assert not plan.missing


def test_what_is_not_held_is_not_missing():
    items = {"passport": worked(image=False)["passport"]}

    plan = lay_out(packet(not_held=("id-card", "tax-card")), items)

    assert [spec.folder for spec in plan.missing] == ["housing", "income", "insurance"]


def test_the_mark_stands_for_what_is_enclosed():
    """The form does not enter it; another picture changes it; no sign can be misread."""
    before = lay_out(packet(), worked())
    other = worked() | {"housing": (item(Kind.A4_PAGE, 99, folder="housing"),)}

    assert before.mark == lay_out(packet(), worked() | form_items()).mark
    assert before.mark != lay_out(packet(), other).mark
    assert len(before.mark) == 4
    assert not set(MARK_SIGNS) & set("0O1IL5S8BUVZ")
    assert set(before.mark) <= set(MARK_SIGNS)


@pytest.mark.parametrize(("turn", "size"), [(180, (176.0, 125.0)), (90, (176.0, 125.0))])
def test_a_picture_not_held_as_its_item_is_turned_where_it_is_placed(turn, size):
    place, _, _ = one(item(Kind.PASSPORT_SPREAD, size_mm=size, picture_turn_deg=turn))

    assert place.turn_deg == turn
    assert place.rect_mm[2:] == size
