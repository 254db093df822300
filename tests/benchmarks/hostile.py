"""Bad files against the promises: ``python tests/benchmarks/hostile.py [--fast]``.

Builds the corpus of tests/trust/spoilt.py, runs every file through finding (as ``packet
inspect``) and through normalising (as ``packet normalise``) in a worker, and prints: refusals
and how long and how large the slowest and the largest were, crashes, hangs, tracebacks; and how
many of the merely odd or heavy valid files were accepted. Exit code 1 when a figure is missed.
Time is that of the worker's processor, peak memory its VmHWM (tests/trust/measured.py).
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from collections import Counter
from dataclasses import asdict, dataclass
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[2]), str(Path(__file__).resolve().parents[1])]

from trust import jobs, seeds, spoilt  # noqa: E402
from trust.measured import Measured, Taken  # noqa: E402

from packet.imaging.scan import process_scan  # noqa: E402
from packet.model import Kind, ScanTask  # noqa: E402

MOST_S = 2.0
MOST_MB = 600.0
TIME_LIMIT_S = 90.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Run(Taken):
    """One file through one stage."""

    name: str
    stage: str

    @property
    def spent_s(self) -> float:
        """What counts against the limit."""
        return self.seconds if self.cpu_s is None else self.cpu_s


def run_all(files: list[Path], stage: str) -> list[Run]:
    """Every file, one after another, in one worker (a new one where it was lost)."""
    tasks = [
        ScanTask(
            path=path,
            name=path.name,
            kinds=tuple(Kind),
            encode=stage == "normalise",
            lossless=stage == "normalise",
        )
        for path in files
    ]
    with Measured(process_scan, TIME_LIMIT_S, warm=tasks[0]) as run:
        return [Run(name=task.name, stage=stage, **asdict(run(task))) for task in tasks]


def _unmeasured(files: list[Path]) -> list[Run]:
    """The PDFs, read where what a page draws is not worked out beforehand."""
    pdfs = [path for path in files if path.suffix == ".pdf"]
    pdfs += sorted((Path(__file__).resolve().parents[1] / "fuzz" / "found" / "pdf").glob("*"))
    warm = files[0].parent / "warm.pdf"
    warm.write_bytes(seeds.drawn_pdf())
    with Measured(jobs.decode_unmeasured, TIME_LIMIT_S, warm=str(warm)) as run:
        return [Run(name=path.name, stage="read", **asdict(run(str(path)))) for path in pdfs]


def command_line(files: list[Path]) -> tuple[int, int]:
    """``packet inspect -`` over all files: (answers that are no JSON or missing, tracebacks)."""
    done = subprocess.run(
        [sys.executable, "-m", "packet", "inspect", "-"],
        input="\n".join(map(str, files)),
        capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path[:2])},
    )  # fmt: skip
    answers = [json.loads(line) for line in done.stdout.splitlines()]
    lost = len(files) - len({answer["scan"] for answer in answers})
    return lost, (done.stdout + done.stderr).count("Traceback")


def write(room: Path, files: list[tuple[str, bytes]]) -> list[Path]:
    """The files as ``room``/number-name, the name made safe for any system."""
    room.mkdir()
    paths = []
    for number, (name, data) in enumerate(files):
        plain = "".join(sign if sign.isalnum() or sign in ".-" else "_" for sign in name)
        paths.append(room / f"{number:03}-{plain}")
        paths[-1].write_bytes(data)
    return paths


def report(runs: list[Run], title: str) -> bool:
    """Print one stage; True when nothing in it breaks a promise."""
    ends = Counter(run.end for run in runs)
    refused = [run for run in runs if run.end != "read"]
    slow = [run for run in refused if run.spent_s > MOST_S]
    large = [run for run in refused if (run.peak_mb or 0) > MOST_MB]
    lost = [run for run in runs if run.end in ("died", "timeout", "memory")]
    faults = [run for run in runs if "Traceback" in run.words or "reader failed" in run.words]
    print(f"{title}: {len(runs)} files, {dict(ends)}")
    print(
        f"  refusals: slowest {max((run.spent_s for run in refused), default=0):.2f} s of CPU "
        f"({max((run.seconds for run in refused), default=0):.2f} s by the clock), largest "
        f"{max((run.peak_mb or 0 for run in refused), default=0):.0f} MB; over {MOST_S:g} s: "
        f"{len(slow)}, over {MOST_MB:g} MB: {len(large)}"
    )
    slowest = max(runs, key=lambda run: run.spent_s)
    largest = max(runs, key=lambda run: run.peak_mb or 0)
    print(
        f"  all: slowest {slowest.spent_s:.2f} s ({slowest.name}), largest "
        f"{largest.peak_mb or 0:.0f} MB ({largest.name})"
    )
    print(f"  crashes, hangs, out of memory: {len(lost)}; unforeseen exceptions: {len(faults)}")
    for run in {*slow, *large, *lost, *faults}:
        peak = f"{run.peak_mb:.0f} MB" if run.peak_mb else "gone"
        print(f"    {run.name}: {run.end}, {run.spent_s:.2f} s, {peak}: {run.words[:120]}")
    return not (slow or large or lost or faults)


def main() -> None:
    fast = "--fast" in sys.argv
    bad = list(spoilt.bad_files())[:: 8 if fast else 1]
    odd = list(spoilt.odd_files())[:: 8 if fast else 1] + list(spoilt.heavy_files())
    good = True
    with tempfile.TemporaryDirectory(prefix="hostile-") as room:
        bad_paths = write(Path(room) / "bad", bad)
        odd_paths = write(Path(room) / "odd", odd)
        for stage in ("inspect", "normalise"):
            good &= report(run_all(bad_paths, stage), f"bad files, {stage}")
        good &= report(_unmeasured(bad_paths), "bad PDFs, stopped by the allowance alone")
        runs = run_all(odd_paths, "inspect")
        accepted = sum(run.end == "read" for run in runs)
        good &= accepted == len(runs)
        print(f"odd or heavy valid files accepted: {accepted} of {len(runs)}")
        for run in runs:
            if run.end != "read":
                print(f"    {run.name}: {run.words}")
        lost, tracebacks = command_line(bad_paths)
        good &= not lost and not tracebacks
        print(f"packet inspect -: answers missing {lost}, tracebacks {tracebacks}")
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    main()
