"""Items whose right way up nobody knows are said, blank ones and those of the user are not."""

from checks.making import item
from packet.checks.turns import unsure_turns
from packet.model import Kind


def test_unsure_is_a_note_with_a_remedy():
    (finding,) = unsure_turns([item(Kind.A4_PAGE, turn_deg=None)])

    assert finding.code == "turn-unsure"
    assert not finding.needs_user
    assert "[[item]]" in finding.remedy


def test_known_and_blank_items_are_not_said():
    known = item(Kind.A4_PAGE, turn_deg=180)
    blank = item(Kind.A4_PAGE, turn_deg=None, blank=True)

    assert unsure_turns([known, blank]) == ()
