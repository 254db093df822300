"""A phone over a table: from millimetres on the table to pixels and back.

Table: x to the right, y away from the top (down), height above the table upwards. The lens has
radial distortion k1 (Brown-Conrady): a point r from the axis (in focal lengths) is seen at
r (1 + k1 r^2).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """``turn`` (3, 3) and ``place`` (3,): table to camera; pixel centres on integers."""

    size_px: tuple[int, int]
    focal_px: float
    turn: np.ndarray = field(repr=False)
    place: np.ndarray = field(repr=False)
    k1: float = 0.0

    def project(self, points_mm: np.ndarray) -> np.ndarray:
        """(n, 3) points (x, y, height) on the table to (n, 2) pixels."""
        flipped = points_mm * np.array([1.0, 1.0, -1.0])
        seen = flipped @ self.turn.T + self.place
        flat = seen[:, :2] / seen[:, 2:]
        flat = flat * (1 + self.k1 * (flat**2).sum(axis=1, keepdims=True))
        return flat * self.focal_px + self._centre()

    def rays(self, box: tuple[int, int, int, int]) -> tuple[np.ndarray, np.ndarray]:
        """Camera centre (3,) and directions (3, h, w) float32 for pixels x, y, w, h of a box."""
        x0, y0, width, height = box
        cx, cy = self._centre()
        u = (np.arange(x0, x0 + width, dtype=np.float32) - np.float32(cx)) / self.focal_px
        v = (np.arange(y0, y0 + height, dtype=np.float32) - np.float32(cy)) / self.focal_px
        x, y = np.meshgrid(u.astype(np.float32), v.astype(np.float32))
        if self.k1:
            a, b = x, y
            for _ in range(4):
                stretch = 1 + np.float32(self.k1) * (a * a + b * b)
                a, b = x / stretch, y / stretch
            x, y = a, b
        back = self.turn.T.astype(np.float32)
        ones = np.float32(1)
        directions = np.stack(
            [back[row, 0] * x + back[row, 1] * y + back[row, 2] * ones for row in range(3)]
        )
        return -self.turn.T @ self.place, directions

    def _centre(self) -> np.ndarray:
        return (np.array(self.size_px, dtype=np.float64) - 1) / 2


def meet(
    centre: np.ndarray, directions: np.ndarray, height_mm: np.ndarray | float
) -> tuple[np.ndarray, np.ndarray]:
    """Where rays meet the level ``height_mm`` above the table: x, y in mm, float32."""
    reach = (-np.asarray(height_mm, np.float32) - np.float32(centre[2])) / directions[2]
    x = np.float32(centre[0]) + reach * directions[0]
    y = np.float32(centre[1]) + reach * directions[1]
    return x, y


def tilted(
    *, size_px: tuple[int, int], focal: float, tilt_deg: float, towards_deg: float, roll_deg: float
) -> Camera:
    """A camera at some distance, tilted about an axis, aimed at the middle of the table."""
    a, b, r = np.radians([tilt_deg, towards_deg, roll_deg])
    axis = np.array([np.cos(b), np.sin(b), 0.0])
    cross = np.array(
        [[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]], np.float64
    )
    lean = np.eye(3) + np.sin(a) * cross + (1 - np.cos(a)) * cross @ cross
    roll = np.array([[np.cos(r), -np.sin(r), 0], [np.sin(r), np.cos(r), 0], [0, 0, 1]])
    return Camera(
        size_px=size_px, focal_px=focal * max(size_px), turn=lean @ roll,
        place=np.array([0.0, 0.0, 1000.0]),
    )  # fmt: skip


def framed(
    camera: Camera,
    corners_mm: np.ndarray,
    *,
    fill: float,
    shift: tuple[float, float],
    k1: float,
    most_lost: float = 0.6,
) -> Camera:
    """Move the camera so that points take a share of the picture, at a shift from its middle.

    ``fill``: their extent over the picture's, on the tighter axis. ``shift``: of their middle, in
    shares of the free room (0 centred, 1 touching the edge, beyond 1 cut off).
    ``most_lost``: of their extent, beyond an edge: what is hardly in the picture nobody can tell.
    """
    size = np.array(camera.size_px, dtype=np.float64)
    place = camera.place.copy()
    for _ in range(12):
        now = _with(camera, place, k1)
        seen = now.project(corners_mm)
        low, high = seen.min(axis=0), seen.max(axis=0)
        share = float(((high - low) / size).max())
        place[2] *= (share / fill) ** 0.8
        room = np.maximum(size - (high - low), 0.04 * size) / 2
        most = 1 + most_lost * (high - low) / room
        wish = (size - 1) / 2 + room * np.clip(shift, -most, most)
        place[:2] += (wish - (low + high) / 2) * place[2] / camera.focal_px * 0.9
    return _with(camera, place, k1)


def _with(camera: Camera, place: np.ndarray, k1: float) -> Camera:
    return Camera(
        size_px=camera.size_px,
        focal_px=camera.focal_px,
        turn=camera.turn,
        place=place.copy(),
        k1=k1,
    )
