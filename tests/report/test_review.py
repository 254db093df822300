"""The review page, read back with the standard library's HTML parser."""

from __future__ import annotations

import base64
import itertools
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from checks.making import finding, packet

from packet.model import CountChoice, Severity
from packet.report.review import review_pieces
from packet.report.review_style import STYLE
from report.making import HOSTILE, view

VOID = {"meta", "img", "br", "link", "input", "hr"}


def review_html(given) -> bytes:
    return "".join(review_pieces(given)).encode("utf-8")


class Reader(HTMLParser):
    """Every element with its attributes, and every text with the language it is in."""

    def __init__(self, html):
        super().__init__(convert_charrefs=True)
        self.elements = []
        self.texts = []
        self.open = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag, attrs):
        assert len({key for key, _ in attrs}) == len(attrs), f"doubled attribute in {tag}"
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop()[0] == tag, f"</{tag}> out of place"

    def handle_data(self, data):
        languages = [attrs["lang"] for _, attrs in self.open if "lang" in attrs]
        if data.strip() and self.open[-1][0] != "style":
            self.texts.append((data.strip(), languages[-1]))

    def all(self, tag):
        return [attrs for name, attrs in self.elements if name == tag]


@pytest.fixture(params=[False, True], ids=["plain", "hostile"])
def read(request):
    return Reader(review_html(view(hostile=request.param)).decode("utf-8"))


def test_it_is_well_formed(read):
    assert read.open == []


def test_it_loads_nothing_and_runs_nothing(read):
    assert read.all("script") == []
    for tag, attrs in read.elements:
        assert tag not in {"iframe", "object", "embed", "link", "base", "form", "video"}
        for key, value in attrs.items():
            assert not key.startswith("on"), f"{tag} {key}"
            if key in {"src", "href", "action", "srcset", "poster"}:
                assert value.startswith(("data:image/", "#")), f"{tag} {key}={value[:40]}"
    assert "url(" not in STYLE
    assert "@import" not in STYLE


def test_its_policy_forbids_what_it_does_not_need(read):
    (policy,) = [
        attrs["content"]
        for attrs in read.all("meta")
        if attrs.get("http-equiv") == "Content-Security-Policy"
    ]
    assert "default-src 'none'" in policy
    assert "script-src" not in policy
    assert "img-src data:" in policy


def test_every_id_is_unique_and_every_link_leads_somewhere(read):
    ids = [attrs["id"] for _, attrs in read.elements if "id" in attrs]

    assert len(ids) == len(set(ids))
    for attrs in read.all("a"):
        assert attrs["href"][1:] in ids
    for _, attrs in read.elements:
        if "aria-labelledby" in attrs:
            assert attrs["aria-labelledby"] in ids


def test_every_picture_is_described_and_whole(read):
    pictures = read.all("img")

    assert len(pictures) >= 13
    for attrs in pictures:
        assert attrs["alt"].strip()
        kind, data = attrs["src"].split(";base64,")
        assert kind == "data:image/jpeg"
        assert base64.b64decode(data, validate=True).startswith(b"\xff\xd8\xff")


def test_headings_and_landmarks(read):
    levels = [int(tag[1]) for tag, _ in read.elements if re.fullmatch("h[1-6]", tag)]

    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))
    assert len(read.all("main")) == 1
    assert len(read.all("nav")) == 1
    assert read.all("html")[0]["lang"] == "en"
    first_link = read.all("a")[0]
    assert first_link["class"] == "skip"
    for attrs in read.all("th"):
        assert attrs["scope"] in {"col", "row"}


def test_italian_is_marked_as_italian(read):
    italian = {text for text, language in read.texts if language == "it"}

    assert "INDICARE IL NUMERO TOTALE DI FOGLI" in italian
    assert "home (it)" in italian
    assert not any("(it)" in text for text, language in read.texts if language != "it")


def test_a_hostile_name_is_only_text():
    html = review_html(view(hostile=True)).decode("utf-8")
    read = Reader(html)

    assert "<script" not in html
    assert any(HOSTILE in text for text, _ in read.texts)
    assert any(HOSTILE in attrs["alt"] for attrs in read.all("img"))


def test_control_and_direction_signs_do_not_pass():
    odd = finding(subject="home/a\u202egpj.\n\udcff", message="It\u0007 is odd.")
    html = review_html(view(findings=(odd,))).decode("utf-8")

    assert "\u202e" not in html
    assert "\u0007" not in html
    assert "home/a\\u202egpj.\\n\\xff" in html


def test_what_it_says_first(read):
    words = " ".join(text for text, _ in read.texts)

    assert words.index("Private.") < words.index("Not complete.") < words.index("Box 25")
    assert "Missing" in words
    assert "Tax-card" in words


def test_the_number_and_its_sum():
    given = view()
    read = Reader(review_html(given).decode("utf-8"))
    texts = [text for text, _ in read.texts]

    assert f"Box 25, total number of sheets: {given.count.box}" in texts
    start = texts.index("leaves of the form")
    assert texts[start + 1] == str(given.count.form_leaves)
    terms = ("leaves of the form", "sheets of copies", "index", "extra leaves")
    assert sum(int(texts[texts.index(term) + 1]) for term in terms) == given.count.box


def test_leaves_that_nobody_counted_are_loud():
    loud = view(packet=packet(count=CountChoice(form_leaves_confirmed=False)))

    assert b"Not confirmed" in review_html(loud)
    assert b"Not confirmed" not in review_html(view())


@pytest.mark.parametrize(("box", "loud"), [(99, False), (100, True)])
def test_two_cells_hold_99(box, loud):
    """Box 25 has two cells in one public list of the boxes: 99 fits, 100 does not."""
    given = view()
    html = review_html(replace(given, count=replace(given.count, box=box))).decode("utf-8")

    assert (f"WARNING: {box} does not fit" in html) is loud


def test_findings_worst_first_and_linked_to_the_sheet():
    given = view()
    read = Reader(review_html(given).decode("utf-8"))
    marks = [
        attrs["class"].split()[0]
        for attrs in read.all("span")
        if attrs.get("class", "").endswith(" tag")
    ]

    order = ["error", "warning", "note", "accepted"]
    assert marks == sorted(marks, key=order.index)
    assert set(marks) == set(order)
    hrefs = [attrs["href"] for attrs in read.all("a")]
    assert "#copy-3" in hrefs  # the blurred paper: opening, cards, paper
    assert any(href.startswith("#finding-") for href in hrefs)


def test_what_is_not_printed_is_shown_too():
    words = " ".join(text for text, _ in Reader(review_html(view()).decode("utf-8")).texts)

    aside = words[words.index("What lies in the folders") :]
    assert "Left out: A4 page (item 1)" in aside
    assert "Nothing was found on this page" in aside
    assert "home/torn.jpg" in aside


def test_pictures_stand_where_they_will_be_printed():
    """A 176 x 125 mm opening in the middle of A4: left (210 - 176) / 2 = 17 mm, 8.095 %."""
    given = view()
    html = review_html(given).decode("utf-8")
    x, y, w, h = given.plan.documents[0].pages[0].placements[0].rect_mm

    assert (w, h) in {(176.0, 125.0), (125.0, 176.0)}
    assert (
        f"left:{x / 2.1:.3f}%;top:{y / 2.97:.3f}%;width:{w / 2.1:.3f}%;height:{h / 2.97:.3f}%"
        in html
    )


def test_outlines_are_drawn_in_the_pixels_of_the_scan():
    html = review_html(view()).decode("utf-8")

    assert 'viewBox="0 0 800 600"' in html
    # Corners lie on pixel centres, half a pixel from the edge of the picture.
    assert 'points="0.5,0.5 176.5,0.5 176.5,125.5 0.5,125.5"' in html
    assert html.count("<text ") == 2  # the two cards on one glass are numbered


def test_same_input_same_bytes():
    assert review_html(view()) == review_html(view())


def test_an_empty_packet_has_a_review_too():
    given = view()
    bare = replace(
        given,
        plan=replace(given.plan, documents=(), form=None, missing=()),
        pages=(),
        findings=(),
        complete=True,
    )

    assert Reader(review_html(bare).decode("utf-8")).open == []


def test_nothing_of_the_applicant_is_in_the_page():
    """Names stand on the index, not here: pictures are personal enough."""
    assert b"ERIKSSON" not in review_html(view())


# --- contrast ------------------------------------------------------------------------------


def _luminance(colour):
    """Relative luminance (WCAG 2.2, definition; IEC 61966-2-1)."""
    channels = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(one, other):
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_text_has_the_contrast_of_level_aa():
    """WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1, in the light and in the dark."""
    schemes = re.findall(r":root \{(.*?)\}", STYLE, re.DOTALL)[:2]

    assert len(schemes) == 2
    for scheme in schemes:
        colours = dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6})", scheme))
        for name in ("ink", "quiet", "accent", "error", "warning", "note"):
            for ground in ("ground", "panel"):
                assert _contrast(colours[name], colours[ground]) >= 4.5, (name, ground)


def test_contrast_of_black_on_white():
    """WCAG 2.2: 21 to 1."""
    assert _contrast("#000000", "#ffffff") == pytest.approx(21)


def test_severity_is_never_colour_alone():
    words = {text for text, _ in Reader(review_html(view()).decode("utf-8")).texts}

    assert {"Error", "Warning", "Note", "Accepted"} <= words
    assert Severity.ERROR.value == "error"


def test_the_number_of_an_incomplete_build_is_provisional():
    whole, part = (review_html(replace(view(), complete=complete)) for complete in (True, False))

    assert b">provisional<" in part
    assert b">provisional<" not in whole


def test_every_picture_has_a_visible_way_to_enlarge_it():
    html = review_html(view()).decode("utf-8")

    assert html.count("<figure") == html.count(">Enlarge</a>") > 0
