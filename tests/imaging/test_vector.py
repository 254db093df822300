"""Born-digital pages: kept as vectors for the sets, drawn only where pixels are asked for."""

from __future__ import annotations

import io

import pytest
from PIL import Image

from packet.imaging.scan import _vector_result, process_scan
from packet.model import EncodedImage, ItemOverride, Kind, ScanTask, VectorPage
from packet.readings import Reading


@pytest.fixture
def born_digital(tmp_path):
    """An A4 page with a black bar along its top (ISO 216: 210 x 297 mm)."""
    from reportlab.pdfgen.canvas import Canvas

    path = tmp_path / "policy.pdf"
    canvas = Canvas(str(path), pagesize=(595.276, 841.890), invariant=1)
    canvas.rect(60, 760, 475, 40, fill=1)
    canvas.save()
    return path


def one_item(path, **choices):
    task = ScanTask(path=path, name="insurance/policy.pdf", kinds=(Kind.A4_PAGE,), **choices)
    (page,) = process_scan(task)
    (item,) = page.items
    return page, item


def test_for_the_sets_it_stays_a_vector_page_with_small_pictures_for_the_review(born_digital):
    page, item = one_item(born_digital, preview=True)

    assert isinstance(item.image, VectorPage)
    assert item.size_mm == pytest.approx((210, 297), abs=0.01)
    for preview in (page.preview, item.preview):
        with Image.open(io.BytesIO(preview)) as small:
            assert small.convert("L").getpixel((small.width // 2, round(0.07 * small.height))) < 60


def test_what_is_clear_at_its_edges_is_measured(born_digital):
    """The bar: 60 to 535 of 595.3 pt across, 760 to 800 of 841.9 pt up; its line is 1 pt wide."""
    _, item = one_item(born_digital, encode=False)

    wanted = (20.99, 14.60, 21.09, 267.9)
    assert item.margins_clear_mm == pytest.approx(wanted, abs=25.4 / 60)
    assert not item.blank

    _, turned = one_item(born_digital, overrides=(ItemOverride(scan="x", turn=90),))
    wanted = (267.9, 20.99, 14.60, 21.09)
    assert turned.margins_clear_mm == pytest.approx(wanted, abs=25.4 / 60)


def test_a_page_without_ink_is_blank(tmp_path):
    from pypdf import PdfWriter

    writer = PdfWriter()
    writer.add_blank_page(595.276, 841.890)
    data = io.BytesIO()
    writer.write(data)
    page = VectorPage(pdf_bytes=data.getvalue(), size_mm=(210.0, 297.0), digest="")
    task = ScanTask(path=tmp_path, name="insurance/policy.pdf", kinds=(Kind.A4_PAGE,))

    (item,) = _vector_result(task, page, 1).items

    assert item.blank
    assert item.margins_clear_mm == (210, 297, 210, 297)
    assert [finding.code for finding in item.findings] == ["blank"]


@pytest.mark.parametrize(("turn", "size"), [(0, (2480, 3508)), (90, (3508, 2480))])
def test_for_a_png_it_is_drawn_at_300_dpi_and_turned(born_digital, turn, size):
    override = ItemOverride(scan="insurance/policy.pdf", turn=turn)
    _, item = one_item(born_digital, lossless=True, overrides=(override,))

    assert isinstance(item.image, EncodedImage)
    with Image.open(io.BytesIO(item.image.data)) as drawn:
        assert drawn.size == size
        assert drawn.info["dpi"] == pytest.approx((300, 300), abs=0.01)
        dark = drawn.convert("L").getpixel(
            (1240, 250) if turn == 0 else (3508 - 250, 1240)  # the bar moves from top to right
        )
    assert dark < 60


def test_its_text_is_read_from_a_drawing_of_it(born_digital):
    """The reader gets the page upright, and knows that it is; a blank page is not read."""
    asked = []

    def reader(request):
        asked.append(request)
        return Reading(terms=("insurance",))

    task = ScanTask(path=born_digital, name="x.pdf", kinds=(Kind.A4_PAGE,), encode=False)
    (page,) = process_scan(task, reader)
    (request,) = asked

    assert page.items[0].reading.terms == ("insurance",)
    assert request.turned
    assert request.pixels.shape[0] / request.dpi * 25.4 == pytest.approx(297, abs=0.3)
    assert request.pixels[round(0.07 * request.pixels.shape[0]), 800].max() < 60
