"""The least that one changed scan can cost: decode it, one cubic warp, encode; none of packet.

python speed_least.py SCAN WIDTH HEIGHT   (of the item in the copy, pixels)
"""

from __future__ import annotations

import sys

import cv2
import numpy as np


def main(scan: str, wide: int, high: int) -> None:
    cv2.setNumThreads(1)
    pixels = cv2.imread(scan, cv2.IMREAD_COLOR)
    away = np.array([pixels.shape[1] - wide, pixels.shape[0] - high]) / 2
    flat = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float32)
    matrix = cv2.getPerspectiveTransform((flat * 0.99 + away).astype(np.float32), flat)
    upright = cv2.warpPerspective(pixels, matrix, (wide, high), flags=cv2.INTER_CUBIC)
    grey = cv2.cvtColor(upright, cv2.COLOR_BGR2GRAY)
    cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, 80])


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
