"""The floor: decode once, one cubic warp an item, encode; plain library calls, none of packet.

python speed_floor.py PACKET   (its out/record.json says where the items are)
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import cv2
import numpy as np
import pypdf
from PIL import Image, ImageOps

cv2.setNumThreads(1)
Image.MAX_IMAGE_PIXELS = None


def pages(path: Path):
    if path.suffix == ".pdf":
        for page in pypdf.PdfReader(path).pages:
            yield page.images[0].image.convert("RGB")
    else:
        with Image.open(path) as picture:
            yield ImageOps.exif_transpose(picture).convert("RGB")


def main(root: Path) -> None:
    items = json.loads((root / "out" / "record.json").read_bytes())["items"]
    done = 0
    for scan in dict.fromkeys(item["scan"] for item in items):
        for number, picture in enumerate(pages(root / scan), start=1):
            pixels = np.asarray(picture)
            for item in items:
                if item["scan"] == scan and item["page"] == number:
                    size = [round(side / 25.4 * item["dpi"]) for side in item["size_mm"]]
                    right, bottom = size[0] - 0.5, size[1] - 0.5
                    flat = [(-0.5, -0.5), (right, -0.5), (right, bottom), (-0.5, bottom)]
                    matrix = cv2.getPerspectiveTransform(
                        np.array(item["corners"], np.float32), np.array(flat, np.float32)
                    )
                    upright = cv2.warpPerspective(pixels, matrix, size, flags=cv2.INTER_CUBIC)
                    grey = cv2.cvtColor(upright, cv2.COLOR_RGB2GRAY)
                    cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, 80])
                    done += 1
    print(done)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
