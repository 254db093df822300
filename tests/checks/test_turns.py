"""Items whose right way up nobody knows are said, blank ones and those of the user are not."""

from checks.making import item
from packet.checks.turns import turned_like_neighbours, unsure_turns
from packet.model import Item, Kind, PageResult, Turn

QUAD = ((10.0, 10.0), (110.0, 10.0), (110.0, 80.0), (10.0, 80.0))


def test_unsure_is_a_note_with_a_remedy():
    (finding,) = unsure_turns([item(Kind.A4_PAGE, turn_deg=None)])

    assert finding.code == "turn-unsure"
    assert not finding.needs_user
    assert "[[item]]" in finding.remedy


def test_known_and_blank_items_are_not_said():
    known = item(Kind.A4_PAGE, turn_deg=180)
    blank = item(Kind.A4_PAGE, turn_deg=None, blank=True)

    assert unsure_turns([known, blank]) == ()


def page_of(one: Item, *, width: int = 2400) -> PageResult:
    return PageResult(scan=one.scan, page=1, width_px=width, height_px=1800, items=(one,))


def opening(number: int, turn: Turn | None, *, folder: str = "passport", **more: object) -> Item:
    size = {"size_mm": (176.0, 125.0), "scan": f"{folder}/{number}.jpg"} | more
    return item(Kind.PASSPORT_SPREAD, turn_deg=turn, corners_px=QUAD, **size)


def told(*turns: Turn | None, **more: object) -> Item:
    """The last of some openings of one book, after its neighbours had their say."""
    pages = [page_of(opening(n, turn)) for n, turn in enumerate(turns[:-1])]
    last = page_of(opening(99, turns[-1], **more))
    return turned_like_neighbours([*pages, last])[-1].items[0]


def test_a_silent_opening_is_turned_like_its_neighbours_and_says_so():
    found = told(180, 180, 180, None)

    assert (found.turn_deg, found.picture_turn_deg) == (180, 180)
    assert found.corners_px == (*QUAD[2:], *QUAD[:2])
    assert [one.code for one in found.findings] == ["turned-like-neighbours"]
    assert not found.findings[0].needs_user


def test_a_quarter_turn_swaps_the_sides():
    found = told(90, 90, 90, 90, None, size_mm=(125.0, 176.0))

    assert found.turn_deg == 90
    assert found.size_mm == (176.0, 125.0)
    assert found.corners_px == (*QUAD[3:], *QUAD[:3])


def test_a_few_voices_or_discord_or_no_turn_change_nothing():
    for turns in ((180, 180, None), (180, 180, 180, 0, None), (0, 0, 0, None), (90, 90, 90, None)):
        assert told(*turns) == opening(99, None)
    assert told(180, 180, 180, None, folder="home").turn_deg is None
    assert told(180, 180, 180, 0).turn_deg == 0


def test_pictures_of_another_size_have_no_voice():
    pages = [page_of(opening(n, 180), width=1800) for n in range(4)]

    assert turned_like_neighbours([*pages, page_of(opening(9, None))])[-1].items[0].turn_deg is None
