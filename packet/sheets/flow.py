"""Blocks of known height that flow down a page, and on to the next.

Millimetres from the top-left corner. A block knows its height before it is drawn, so the number
of pages is known without drawing. Index, worksheet and counter sheet are laid out by it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from packet.sheets.typesetting import Pen

LEFT, RIGHT = 18.0, 192.0
TOP, BOTTOM = 17.0, 281.0
WIDTH = RIGHT - LEFT

Draw = Callable[[Pen, float], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Something ``height`` mm high; ``draw(pen, y)`` draws it with its top at ``y``.

    ``heading``: belongs to the block after it. ``row``: on a new page the table's heading
    comes first again. ``foot``: stands at the bottom of the last page.
    """

    height: float
    draw: Draw
    heading: bool = False
    row: bool = False
    foot: bool = False


@dataclass(slots=True)
class Page:
    """The blocks of one page, each with the y of its top."""

    blocks: list[tuple[float, Block]] = field(default_factory=list)
    y: float = TOP

    def add(self, block: Block) -> None:
        """Put ``block`` under the last one."""
        self.blocks.append((self.y, block))
        self.y += block.height

    def settle(self) -> None:
        """Move the foot to the bottom of the page."""
        spare = BOTTOM - self.y
        self.blocks = [(y + spare * block.foot, block) for y, block in self.blocks]

    def draw(self, pen: Pen) -> None:
        """Draw every block."""
        for y, block in self.blocks:
            block.draw(pen, y)


def flow(blocks: Iterable[Block], heading: Block) -> list[Page]:
    """Pages of blocks. ``heading``: of the table, repeated above a row that begins a page."""
    waiting = list(blocks)
    pages = [Page()]
    for number, block in enumerate(waiting):
        needed = block.height
        if block.heading and number + 1 < len(waiting):
            needed += waiting[number + 1].height
        if pages[-1].y + needed > BOTTOM and pages[-1].blocks:
            pages.append(Page())
            if block.row:
                pages[-1].add(heading)
        pages[-1].add(block)
    pages[-1].settle()
    return pages
