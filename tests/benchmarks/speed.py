"""Figures of speed and memory, beside their targets. Run by hand, on an idle machine:

    python tests/benchmarks/speed.py [--rounds 3] [FIGURE ...]

Each figure is a ratio of user and system seconds of whole processes with all their children,
medians of interleaved runs, so that a machine that is shared shifts both sides alike; "two workers
against one" and the memory are wall time and PSS, and want an idle machine. Packets are drawn into
a temporary folder; the user's cache is not touched. Modules are compiled beforehand, as an
installation leaves them.
"""

from __future__ import annotations

import argparse
import compileall
import contextlib
import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from speed_packet import again_as_jpeg, large_png, mixed, papers

HERE = Path(__file__).resolve().parent
PYTHON = sys.executable
FIGURES: dict[str, Callable[[Path, int], list[tuple[str, str, str]]]] = {}


def figure(function):
    FIGURES[function.__name__] = function
    return function


# The figures are those of building alone; reading texts has a benchmark of its own.
_UNREAD = {"build": ("--no-read",), "batch": ("--no-read",)}


def environment(cache: Path | None = None) -> dict[str, str]:
    """This process's, with packet of this checkout and a cache of the benchmark's own."""
    own = {**os.environ, "PYTHONPATH": str(HERE.parents[1])}
    own.pop("PYTHONDONTWRITEBYTECODE", None)
    return own if cache is None else {**own, "PACKET_CACHE": str(cache)}


def cpu_s(*command: str | Path, cache: Path | None = None) -> float:
    """User and system seconds of a process and its children."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(list(map(str, command)), env=environment(cache), stdout=subprocess.DEVNULL,
                   stderr=subprocess.DEVNULL, check=False)  # fmt: skip
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def packet_s(*words: str | Path, cache: Path) -> float:
    return cpu_s(PYTHON, "-m", "packet", *words, *_UNREAD.get(words[0], ()), cache=cache)


def ratio(rounds: int, one: Callable[[], float], other: Callable[[], float]) -> float:
    pairs = [(one(), other()) for _ in range(rounds)]
    return statistics.median(a for a, _ in pairs) / statistics.median(b for _, b in pairs)


def full_build(root: Path, place: Path, *more: str) -> float:
    shutil.rmtree(root / "out", ignore_errors=True)
    return packet_s("build", root, "--no-cache", *more, cache=place / "no-cache")


# --- the figures -----------------------------------------------------------------------------


@figure
def floor(place: Path, rounds: int):
    rows = []
    for level, target in (("easy", "1.5"), ("normal", "3")):
        root = mixed(place / level, level)
        full_build(root, place)
        got = ratio(
            rounds,
            lambda root=root: full_build(root, place),
            lambda root=root: cpu_s(PYTHON, HERE / "speed_floor.py", root),
        )
        rows.append((f"full build / floor, {level}", f"{got:.2f}", target))
    return rows


_OPENING_PX, _A4_PX = ("2079", "1476"), ("2480", "3508")  # at 300 dpi


@figure
def rebuild(place: Path, rounds: int):
    root, cache = mixed(place / "rebuild", photos=16), place / "cache"  # a book of 28 pages
    photo, png = root / "passport" / "IMG_0001.jpg", root / "means" / "large.png"
    took: dict[str, list[float]] = {}
    for number in range(rounds):
        shutil.rmtree(cache, ignore_errors=True)
        shutil.rmtree(root / "out", ignore_errors=True)
        took.setdefault("full", []).append(packet_s("build", root, cache=cache))
        took.setdefault("nothing", []).append(packet_s("build", root, cache=cache))
        again_as_jpeg(photo)
        took.setdefault("one JPEG", []).append(packet_s("build", root, cache=cache))
        took.setdefault("least JPEG", []).append(took["nothing"][-1] + _least_s(photo, _OPENING_PX))
        large_png(png, 90 + number)
        took.setdefault("one large PNG", []).append(packet_s("build", root, cache=cache))
        took.setdefault("least PNG", []).append(took["nothing"][-1] + _least_s(png, _A4_PX))
    share = {
        name: f"{statistics.median(values) / statistics.median(took['full']):.1%}"
        for name, values in took.items()
    }
    return [
        *(
            (f"rebuild after {name} changed / full", share[name], target)
            for name, target in (("one JPEG", "8%"), ("one large PNG", "14%"), ("nothing", "4%"))
        ),
        *(
            (f"  at least, {name}: nothing, and its bare decode, warp, encode",
             share[f"least {name}"], "-")
            for name in ("JPEG", "PNG")
        ),
    ]  # fmt: skip


def _least_s(scan: Path, size_px: tuple[str, str]) -> float:
    """To decode a scan, warp an item of it and encode that, by plain calls; but for the start of a
    process, which building has, too."""
    return cpu_s(PYTHON, HERE / "speed_least.py", scan, *size_px) - cpu_s(PYTHON, "-c", "pass")


@figure
def workers(place: Path, rounds: int):
    """Wall time of a whole build by workers that have read scans before; and of a cold process."""
    root, before = mixed(place / "workers"), papers(place / "before", 8)

    def cold(jobs: int) -> float:
        start = time.monotonic()
        full_build(root, place, "--jobs", str(jobs))
        return time.monotonic() - start

    with _warmed(1, before) as one, _warmed(2, before) as two:
        warm = ratio(rounds, lambda: _wall(one, root), lambda: _wall(two, root))
    got = ratio(rounds, lambda: cold(1), lambda: cold(2))
    return [("one warmed worker / two, wall", f"{warm:.2f}", ">= 1.65"),
            ("the same, a process from its start", f"{got:.2f}", "")]  # fmt: skip


@contextlib.contextmanager
def _warmed(jobs: int, before: Path):
    """A reader whose workers have all read scans (a worker is started when none is idle)."""
    from packet.reading import Reader

    with Reader(jobs=jobs, read=False) as reader:
        _wall(reader, before)
        yield reader


def _wall(reader, root: Path) -> float:
    from packet.pipeline import write_build
    from packet.reading import list_packet

    out = root / "out"
    shutil.rmtree(out, ignore_errors=True)
    out.mkdir()
    start = time.monotonic()
    listed = list_packet(root, encode=True, preview=True)
    pages, failures = reader.see(listed.wanted)
    write_build(listed, pages, failures, out)
    return time.monotonic() - start


@figure
def startup(place: Path, rounds: int):
    got = ratio(
        5 * rounds,
        lambda: packet_s("--help", cache=place),
        lambda: cpu_s(PYTHON, "-c", "import click"),
    )
    return [("packet --help / import click", f"{got:.2f}", "1.4")]


@figure
def batch(place: Path, rounds: int, number: int = 40):
    root = place / "office"
    for packet in range(number):
        papers(root / f"c{packet}", 2)

    def clean() -> None:
        for out in root.glob("*/out"):
            shutil.rmtree(out)

    def together() -> float:
        clean()
        return packet_s("batch", root, "--no-cache", "--jobs", "2", cache=place / "no-cache")

    def singly() -> float:
        clean()
        return sum(full_build(root / f"c{packet}", place) for packet in range(number))

    got = ratio(max(1, rounds // 3), together, singly)
    return [(f"batch of {number} packets / {number} builds", f"{got:.2f}", "0.9")]


@figure
def decodes(place: Path, rounds: int):
    """Counters around the libraries' own functions, in this process."""
    import cv2
    from PIL import ImageFile

    from packet.imaging.scan import process_scan
    from packet.reading import list_packet

    counted = {"decodes": 0, "warps": 0, "prints": 0}
    load, decode, warp = ImageFile.ImageFile.load, cv2.imdecode, cv2.warpPerspective

    def counting_decode(data, flags):
        counted["decodes"] += 1
        return decode(data, flags)

    def counting_load(self):
        counted["decodes"] += bool(self.tile)
        return load(self)

    def counting_warp(source, matrix, size, *rest, **more):
        large = size[0] * size[1] > 500_000
        counted["warps"] += large
        counted["prints"] += large and more.get("flags") == cv2.INTER_CUBIC
        return warp(source, matrix, size, *rest, **more)

    root = mixed(place / "decodes", photos=3)
    pages, items = 0, 0
    ImageFile.ImageFile.load, cv2.warpPerspective = counting_load, counting_warp
    cv2.imdecode = counting_decode
    try:
        for wanted in list_packet(root, encode=True, preview=True).wanted:
            for page in process_scan(wanted.task):
                pages += 1
                items += len(page.items)
    finally:
        ImageFile.ImageFile.load, cv2.imdecode, cv2.warpPerspective = load, decode, warp
    return [
        ("decodes a page", f"{counted['decodes'] / pages:.2f}", "1"),
        ("warps an item", f"{counted['warps'] / items:.2f}", "<= 1"),
        ("  of them for the print", f"{counted['prints'] / items:.2f}", "<= 1"),
    ]


@figure
def memory(place: Path, rounds: int):
    scanned = mixed(place / "m2")
    phones = mixed(place / "m1")
    (phones / "means" / "large.png").unlink()
    peaks = {
        name: _peak_pss(root)
        for name, root in (
            ("phones and A4", phones),
            ("with a PNG of 35 megapixels", scanned),
            ("40 pages", papers(place / "m40", 40)),
            ("400 pages", papers(place / "m400", 400)),
        )
    }
    targets = ("450", "600", "", "")
    rows = [
        (f"peak PSS, two workers, {name}, MiB", f"{peak:.0f}", target)
        for (name, peak), target in zip(peaks.items(), targets, strict=True)
    ]
    growth = peaks["400 pages"] - peaks["40 pages"]
    return [*rows, ("memory growth, 40 to 400 pages, MiB", f"{growth:.0f}", "15")]


@figure
def share(place: Path, rounds: int):
    """The PDF stage (sets, index, slip, proof) of a full build; imports are counted to it."""
    root = mixed(place / "share", photos=16)
    code = (
        "import sys, time\n"
        "from packet import pipeline\n"
        "from packet.sheets import sets\n"
        "def timed(module, name):\n"
        "    real = getattr(module, name)\n"
        "    def call(*given, **named):\n"
        "        start = time.process_time()\n"
        "        answer = real(*given, **named)\n"
        "        print(time.process_time() - start, file=sys.stderr)\n"
        "        return answer\n"
        "    setattr(module, name, call)\n"
        "timed(sets, 'make_sets')\n"
        "timed(pipeline, '_prove')\n"
        "if __name__ == '__main__':\n"
        "    pipeline.build(__import__('pathlib').Path(sys.argv[1]), jobs=2, use_cache=False)\n"
    )
    (place / "staged.py").write_text(code)
    shares = []
    for _ in range(rounds):
        shutil.rmtree(root / "out", ignore_errors=True)
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        done = subprocess.run([PYTHON, str(place / "staged.py"), str(root)], env=environment(),
                              capture_output=True, text=True, check=True)  # fmt: skip
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        whole = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        shares.append(sum(map(float, done.stderr.split()[-2:])) / whole)
    return [("PDF stage of a full build", f"{statistics.median(shares):.1%}", "3%")]


@figure
def one_file(place: Path, rounds: int):
    """A file that holds both copy sets, against one of them."""
    from packet.sheets.print_file import both_sets

    root = papers(place / "both", 25)
    full_build(root, place)
    one = (root / "out" / "copy-set-1.pdf").read_bytes()
    return [("both sets in one file / one set, bytes", f"{len(both_sets(one)) / len(one):.3f}",
             "1.02")]  # fmt: skip


@figure
def merge(place: Path, rounds: int):
    """CPU of the PDF stage a page: 1000 pages against 50, every page a picture of its own."""
    from sheets.making import HOUSING, item, packet

    from packet.files import Parts
    from packet.model import Kind
    from packet.sheets.count import count_sheets
    from packet.sheets.layout import lay_out
    from packet.sheets.sets import make_sets

    def a_page(pages: int) -> float:
        told = packet((HOUSING,))
        items = {HOUSING.folder: tuple(item(Kind.A4_PAGE, n + 1) for n in range(pages))}
        plan = lay_out(told, items)
        start = time.process_time()
        with tempfile.TemporaryDirectory(dir=place) as folder:
            make_sets(told, plan, count_sheets(told, plan), True, Parts(Path(folder)))
        return (time.process_time() - start) / pages

    return [("PDF stage a page, 1000 / 50 pages",
             f"{ratio(rounds, lambda: a_page(1000), lambda: a_page(50)):.2f}", "1.3")]  # fmt: skip


@figure
def many(place: Path, rounds: int):
    """A generated tree of tiny packets that are current: the curve of time and memory."""
    from batch.making import tiny

    rows, cache = [], place / "cache-many"
    root = place / "many"
    tiny(root, "c0")
    packet_s("batch", root, cache=cache)
    have = 1
    for number in (250, 1000, 5000):
        for packet in range(have, number):
            shutil.copytree(root / "c0", root / f"c{packet}")
        have = number
        code = (
            "import sys,resource\nfrom packet.cli import main\n"
            "try: main(sys.argv[1:])\nexcept SystemExit: pass\n"
            "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, file=sys.stderr)"
        )
        before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
        words = [PYTHON, "-c", code, "batch", str(root), "--no-read"]
        done = subprocess.run(
            words, env=environment(cache), capture_output=True, text=True, check=True
        )
        took = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before
        most = int(done.stderr.split()[-1]) / 1024
        said = f"{1000 * took / number:.1f}, {most:.0f}"
        rows.append((f"{number} packets: ms a packet, MiB", said, "linear"))
    return rows


def _peak_pss(root: Path) -> float:
    """Highest sum of PSS (Linux, proc_pid_smaps_rollup(5)) over the process tree, in MiB."""
    run = subprocess.Popen(
        [PYTHON, "-m", "packet", "build", str(root), "--no-cache", "--no-read", "--jobs", "2"],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        env=environment(),
    )  # fmt: skip
    most = 0
    while run.poll() is None:
        most = max(most, sum(map(_pss, _tree(run.pid))))
        time.sleep(0.1)
    return most / 1024


def _tree(process: int) -> list[int]:
    try:
        text = Path(f"/proc/{process}/task/{process}/children").read_text("ascii")
    except OSError:
        return []
    return [process, *(one for child in text.split() for one in _tree(int(child)))]


def _pss(process: int) -> int:
    try:
        lines = Path(f"/proc/{process}/smaps_rollup").read_text("ascii").splitlines()
        return next(int(line.split()[1]) for line in lines if line.startswith("Pss:"))
    except (OSError, StopIteration):
        return 0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("figures", nargs="*", choices=[*FIGURES, []], metavar="FIGURE")
    parser.add_argument("--rounds", type=int, default=3)
    asked = parser.parse_args()
    compileall.compile_dir(HERE.parents[1] / "packet", quiet=2)
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores; figure, measured, target")
    for name in asked.figures or FIGURES:
        with tempfile.TemporaryDirectory(prefix="packet-speed-") as place:
            for what, measured, target in FIGURES[name](Path(place), asked.rounds):
                print(f"{what:45} {measured:>12}   {target}", flush=True)


if __name__ == "__main__":
    main()
