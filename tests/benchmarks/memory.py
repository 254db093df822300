"""Peak memory of one worker on large scans, beside its targets. Run by hand (Linux):

    python tests/benchmarks/memory.py

Each picture is read, judged and encoded in a process of its own; the parent looks at that
process's proportional set size (PSS) every few milliseconds and prints the highest.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np

HERE = Path(__file__).resolve()
TARGETS = (
    ("12-megapixel photo", 400),
    ("41-megapixel flatbed scan", 700),
    ("41-megapixel scan, a paper in the corner", 700),
)  # MiB
WORK = """
import resource
import sys
from pathlib import Path
from packet.imaging.scan import process_scan, warm_up
from packet.model import Kind, ScanTask
warm_up()
path = Path(sys.argv[1])
for page in process_scan(ScanTask(path=path, name=path.name, kinds=(Kind.A4_PAGE,), preview=True)):
    print(len(page.items), [finding.code for item in page.items for finding in item.findings])
print("resident at most", resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024, "MiB")
"""


def page(size: tuple[int, int], paper: tuple[int, int], *, corner: bool = False) -> np.ndarray:
    """A picture (width, height) of a sheet with lines of text on a dark table, in its middle or
    in its corner."""
    wide, high = paper
    sheet = np.full((high, wide, 3), 235, np.uint8)
    scale = wide / 1700
    for y in range(round(0.08 * high), round(0.92 * high), round(0.02 * high)):
        place = (round(0.08 * wide), y)
        cv2.putText(sheet, "written line of text " * 4, place, cv2.FONT_HERSHEY_SIMPLEX, scale,
                    (30, 30, 30), max(1, round(2 * scale)))  # fmt: skip
    left, top = (0, 0) if corner else ((size[0] - wide) // 2, (size[1] - high) // 2)
    picture = np.full((size[1], size[0], 3), (60, 50, 45), np.uint8)
    picture[top : top + high, left : left + wide] = sheet
    return cv2.add(picture, np.random.default_rng(5).integers(0, 6, picture.shape, np.uint8))


def drawn(name: str, folder: Path) -> Path:
    """The file of one picture."""
    if name.startswith("12"):
        path = folder / "photo.jpg"
        cv2.imwrite(str(path), page((3000, 4000), (2616, 3700)))
        return path
    from PIL import Image

    path = folder / "flatbed.png"
    corner = "corner" in name
    pixels = page((5400, 7600), (2950, 2080) if corner else (4960, 7016), corner=corner)
    Image.fromarray(pixels).save(path, dpi=(600, 600), compress_level=1)
    return path


def pss_mib(process: int) -> float:
    """The process's share of memory now; 0 when it has ended."""
    try:
        lines = Path(f"/proc/{process}/smaps_rollup").read_text("ascii").splitlines()
    except OSError:
        return 0.0
    return sum(int(line.split()[1]) for line in lines if line.startswith("Pss:")) / 1024


def main() -> None:
    """Draw, run, print."""
    environment = os.environ | {"PYTHONPATH": str(HERE.parents[2])}
    with tempfile.TemporaryDirectory(prefix="memory-") as folder:
        for name, target in TARGETS:
            path = drawn(name, Path(folder))
            work = subprocess.Popen([sys.executable, "-c", WORK, str(path)], env=environment)
            peak = 0.0
            while work.poll() is None:
                peak = max(peak, pss_mib(work.pid))
                time.sleep(0.003)
            print(f"{name}: peak {peak:.0f} MiB (target <= {target})", flush=True)


if __name__ == "__main__":
    main()
