"""Coverage-guided fuzzing with atheris: ``python tests/fuzz/run.py TARGET SECONDS [FOLDER]``.

TARGET: packet-toml, inspect, pdf-unmeasured, or a format of tests/trust/seeds.py. Starts from the
small valid files and from tests/fuzz/found/TARGET; what breaks a promise is written to FOLDER
(default: a new temporary folder) and ends the run. Needs atheris, which is not among the test
requirements.
"""

from __future__ import annotations

import importlib
import pkgutil
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE.parent)]


def main() -> None:
    """All is imported here: a worker that is started imports this file, not what it watches."""
    import atheris

    with atheris.instrument_imports(include=["packet"]):
        import packet.intake
        from fuzz import targets

        for found in pkgutil.iter_modules(packet.intake.__path__, "packet.intake."):
            importlib.import_module(found.name)  # they load one another only when needed

    target, seconds = sys.argv[1], int(sys.argv[2])
    room = Path(sys.argv[3]) if len(sys.argv) > 3 else Path(tempfile.mkdtemp(prefix="fuzz-run-"))
    corpus = room / f"corpus-{target}"
    corpus.mkdir(parents=True, exist_ok=True)
    for number, data in enumerate(_starts(target)):
        (corpus / f"seed-{number:03}").write_bytes(data)
    atheris.Setup(
        [
            "fuzz",
            str(corpus),
            f"-max_total_time={seconds}",
            f"-artifact_prefix={room}/{target}-",
            "-timeout=60",
            "-rss_limit_mb=2500",
            "-max_len=60000",
            "-print_final_stats=1",
        ],
        targets.FUNCTIONS.get(target, targets.intake),
    )
    atheris.Fuzz()


def _starts(target: str) -> list[bytes]:
    from trust import seeds

    if target == "packet-toml":
        starts = [seeds.TOML]
    elif target == "inspect":
        starts = [data for group in seeds.formats().values() for data in group]
    else:
        starts = list(seeds.formats()[target.removesuffix("-unmeasured")])
    found = HERE / "found" / target.removesuffix("-unmeasured")
    return starts + [path.read_bytes() for path in sorted(found.glob("*"))]


if __name__ == "__main__":
    main()
