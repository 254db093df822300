"""The boxes of the form."""

from __future__ import annotations

import pytest

from packet.errors import PacketFileError
from packet.guides.fills import FILLS, KEYS
from packet.rules.boxes import form_boxes, read_boxes

NOTES = {  # box -> official note of MOD. 209 that speaks of it
    "3": "(a)",
    "4": "(a)",
    "8": "(c)",
    "9": "(c)",
    "14": "(c)",
    "16": "(d)",
    "18": "(e)",
    "19": "(e)",
    "20": "(e)",
    "25": "(g)",
    "29": "(f)",
    "32": "(i)",
    "33": "(j)",
    "35": "(k)",
    "36": "(k)",
    "40": "(l)",
    "46": "(m)",
    "48": "(n)",
    "50": "(n)",
}


def test_each_box_names_its_note():
    sources = {box.number: box.source for box in form_boxes().boxes}

    for number, note in NOTES.items():
        assert sources[number] == f"MOD. 209, note {note}"


def test_boxes_stand_in_the_forms_order():
    numbers = [int(box.number) for box in form_boxes().boxes if box.number]

    assert numbers == sorted(numbers)


def test_no_box_is_both_written_and_left_empty():
    """For a first issue and for a renewal, 1 to 75 are named once each."""
    form = form_boxes()
    for kind in ("first-issue", "renewal"):
        written = [box.number for box in form.boxes if box.number and box.only in ("", kind)]
        empty = [b for one in form.empty if one.only in ("", kind) for b in one.boxes]
        every = written + empty + list(form.look) + list(form.words)
        assert sorted(every, key=lambda one: int(one.split()[0])) == sorted(
            [*map(str, range(1, 76)), "76 on", "24"],  # 24: written, or empty without module 2
            key=lambda one: int(one.split()[0]),
        )


def test_only_known_cell_counts_are_claimed():
    """Two cells for box 25 and for the province of the head: all that is known."""
    cells = {box.label_it: box.cells for box in form_boxes().boxes if box.cells is not None}

    assert cells == {"SIGLA PROVINCIA": 2, "INDICARE IL NUMERO TOTALE DI FOGLI": 2}


def test_every_fill_has_a_function():
    fills = {box.fill for box in form_boxes().boxes}

    assert fills <= set(FILLS)
    assert set(KEYS) <= fills


def test_letters_for_civil_status_and_sex():
    """MOD. 209, notes (i) and (j): A single, B married; F, M."""
    assert form_boxes().civil_status == {"single": "A", "married": "B"}
    assert form_boxes().sex == {"F": "F", "M": "M"}


def test_a_box_without_source_is_refused(tmp_path):
    path = tmp_path / "boxes.toml"
    path.write_text(
        'form = "f"\nas_of = 2006-12-01\n[writing]\ndate_source = "x"\npen_source = "y"\n'
        '[[box]]\nlabel_it = "A"\nlabel_en = "B"\nfill = "cross"\n',
        "utf-8",
    )
    with pytest.raises(PacketFileError) as caught:
        read_boxes(path)
    (problem,) = caught.value.problems
    assert problem.startswith("box[0].source: found nothing")
