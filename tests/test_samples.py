"""The demo data: small, true to its own truth file, and counted right."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from packet import pipeline
from packet.imaging.scan import process_scan
from packet.intake.packet_file import read_packet
from packet.intake.scans import list_scans
from packet.model import Kind, ScanTask

SAMPLES = Path(__file__).resolve().parents[1] / "samples"
TRUTH = json.loads((SAMPLES / "truth.json").read_text("utf-8"))
PACKETS = [SAMPLES / "demo", *sorted((SAMPLES / "batch").iterdir())]


def test_samples_stay_small():
    """What a user has built from them does not count."""
    built = {"out", "__pycache__"}
    files = [path for path in SAMPLES.rglob("*") if path.is_file()]
    assert (
        sum(p.stat().st_size for p in files if not built & set(p.relative_to(SAMPLES).parts)) < 12e6
    )


@pytest.mark.parametrize("root", PACKETS, ids=lambda root: root.name)
def test_packets_read_and_every_scan_has_its_truth(root):
    scans, findings = list_scans(read_packet(root))
    bad = {"means/IMG_0012.jpg"}  # text under a picture's name, on purpose

    assert findings == ()
    known = {name.removeprefix(f"{root.relative_to(SAMPLES).as_posix()}/") for name in TRUTH}
    assert {scan.name for scan in scans} - bad <= known


@pytest.mark.slow
def test_demo_is_complete_and_counts_31(tmp_path):
    """The worked sum of the demo: 4 + 16 + 1 + 1 + 3 + 4 + 2 (MOD. 209, note (g))."""
    built = pipeline.build(SAMPLES / "demo", tmp_path / "out")

    assert built.record["complete"] is True
    assert built.record["count"]["box"] == 31
    worst = max(
        _error_mm(item, TRUTH[f"demo/{item['scan']}"][item["page"] - 1])
        for item in built.record["items"]
        if len(TRUTH[f"demo/{item['scan']}"])
        == len({i["page"] for i in TRUTH[f"demo/{item['scan']}"]})
    )
    assert worst < 1.0


def _error_mm(item, truth):
    """Mean distance of the corners, whichever of them is called the first."""
    found, true = np.array(item["corners"]), np.array(truth["corners"])
    px_per_mm = np.linalg.norm(true[1] - true[0]) / truth["size_mm"][0]
    return min(
        np.linalg.norm(np.roll(found, turn, axis=0) - true, axis=1).mean() / px_per_mm
        for turn in range(4)
    )


@pytest.mark.slow
def test_a_clean_client_is_complete(tmp_path):
    built = pipeline.build(SAMPLES / "batch" / "client-a", tmp_path / "out")

    assert built.record["complete"] is True


@pytest.mark.slow
def test_a_client_with_faults_is_told_each_of_them(tmp_path):
    built = pipeline.build(SAMPLES / "batch" / "client-c", tmp_path / "out")

    assert built.record["complete"] is False
    codes = {finding.code for finding in built.findings}
    assert {"missing-document", "missing-side", "blurred", "not-a-scan"} <= codes


@pytest.mark.parametrize("name", ["passport/IMG_07.jpg", "passport/IMG_16.jpg"])
def test_openings_beside_a_seam_and_of_two_colours(name):
    """A seam of the table close to a side, and two pages of which one has the lid's colour."""
    kinds = (Kind.PASSPORT_COVER, Kind.PASSPORT_SPREAD, Kind.PASSPORT_PAGE, Kind.VISA_PAGE)
    task = ScanTask(path=SAMPLES / "demo" / name, name=name, kinds=kinds, encode=False, small=True)
    (page,) = process_scan(task)
    (item,) = page.items

    assert item.kind is Kind.PASSPORT_SPREAD
    assert _error_mm({"corners": item.corners_px}, TRUTH[f"demo/{name}"][0]) < 1.0
