"""Items that reach over the edge of the picture: which side is cut, and where it would end."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from packet.imaging.geometry import Quads, is_convex

_LEAST, _MOST = 1.015, 1.8  # how much longer than what is seen a cut item may be


def sides_on_border(
    quad: Quads, *, width_px: int, height_px: int, slack_px: float
) -> NDArray[np.bool_]:
    """(4,) True for a side both of whose ends lie at one edge of the picture."""
    ends = np.stack([quad, np.roll(quad, -1, axis=0)])  # (2, 4, 2)
    at_edges = [
        np.abs(ends[..., 0]) < slack_px,
        np.abs(ends[..., 1]) < slack_px,
        np.abs(ends[..., 0] - width_px + 1) < slack_px,
        np.abs(ends[..., 1] - height_px + 1) < slack_px,
    ]
    return np.asarray(np.any([edge.all(axis=0) for edge in at_edges], axis=0), bool)


def prolonged(quad: Quads, side: int, *, aspect: float, wanted: Sequence[float]) -> Quads | None:
    """The quad with one cut side moved out until it has one of the wanted shapes.

    ``aspect``: width / height of what is seen; ``wanted``: the same of the whole item, several.
    The nearest one that makes it longer is taken; None when none does.
    """
    across = side % 2 == 1  # right or left side: the width is cut
    stretches = [want / aspect if across else aspect / want for want in wanted]
    stretches = [value for value in stretches if _LEAST < value < _MOST]
    if not stretches:
        return None
    stretch = min(stretches)
    unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=np.float32)
    matrix = cv2.getPerspectiveTransform(unit, quad.astype(np.float32))
    corners = unit.astype(np.float64)
    axis = 0 if across else 1
    far = 1.0 if side in (1, 2) else 0.0
    moved = corners[:, axis] == far
    corners[moved, axis] = stretch if far else 1 - stretch
    seen = np.column_stack([corners, np.ones(4)]) @ matrix.T
    if np.any(seen[:, 2] <= 1e-6):
        return None
    longer: Quads = np.asarray(seen[:, :2] / seen[:, 2:], np.float64)
    return longer if is_convex(longer) else None
