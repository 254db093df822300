"""Draw the README's pictures from the demo packet: python samples/pictures.py

Builds samples/demo into a temporary folder and writes samples/pictures/: scans beside the pages
made of them, the cover index, and, where a Chromium is installed, the review page.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path

import pillow_heif
import pypdfium2
from PIL import Image, ImageOps

from packet import pipeline

HERE = Path(__file__).resolve().parent
GROUND = (228, 226, 220)
GAP_PX = 24
PAIRS = (  # a scan of the demo and the page of the envelope set that shows it
    ("passport/IMG_03.jpg", 3),
    ("id-card/scan0001.jpg", 17),
    ("means/IMG_2211.jpg", 23),
)


def page(pdf: Path, number: int, height_px: int) -> Image.Image:
    """Page ``number`` (from 1) as a picture ``height_px`` high."""
    with pypdfium2.PdfDocument(pdf) as document:
        sheet = document[number - 1]
        return sheet.render(scale=height_px / sheet.get_height()).to_pil().convert("RGB")


def scan(path: Path, box_px: tuple[int, int]) -> Image.Image:
    """A scan as a viewer shows it, within ``box_px``."""
    with Image.open(path) as picture:
        upright = ImageOps.exif_transpose(picture).convert("RGB")
    upright.thumbnail(box_px, Image.Resampling.LANCZOS)
    return upright


def beside(pictures: list[Image.Image], height_px: int) -> Image.Image:
    """Pictures in a row on a quiet ground, each centred in its height."""
    width = sum(one.width + GAP_PX for one in pictures) + GAP_PX
    row = Image.new("RGB", (width, height_px + 2 * GAP_PX), GROUND)
    left = GAP_PX
    for one in pictures:
        row.paste(one, (left, GAP_PX + (height_px - one.height) // 2))
        left += one.width + GAP_PX
    return row


def review(html: Path, target: Path) -> None:
    """A screenshot of the review page, if a Chromium is there to make it."""
    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    if browser is None:
        print("no Chromium here: the picture of the review page stays as it is")
        return
    with tempfile.TemporaryDirectory() as profile:
        subprocess.run(
            [
                browser,
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
                "--disable-background-networking",
                "--no-first-run",
                f"--user-data-dir={profile}",
                "--hide-scrollbars",
                "--window-size=1100,1000",
                f"--screenshot={target}",
                html.as_uri(),
            ],
            check=True,
            capture_output=True,
        )


def main() -> None:
    """Build the demo and write the pictures."""
    pillow_heif.register_heif_opener()
    target = HERE / "pictures"
    target.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as room:
        out = Path(room) / "out"
        pipeline.build(HERE / "demo", out)
        pictures = []
        for name, number in PAIRS:
            pictures.append(scan(HERE / "demo" / name, (330, 420)))
            pictures.append(page(out / "envelope.pdf", number, 420))
        beside(pictures, 420).save(target / "scans-and-pages.jpg", quality=82)
        index = page(out / "copy-set-1.pdf", 1, 1100)
        beside([index], 1100).quantize(32).save(target / "index.png", optimize=True)
        review(out / "review.html", target / "review.png")


if __name__ == "__main__":
    main()
