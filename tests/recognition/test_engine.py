"""The models: whole or one clear sentence; no network, no noise, one thread."""

from __future__ import annotations

import subprocess
import sys
from importlib import metadata, resources
from pathlib import Path

import pytest

from packet.recognition import engine, extra

pytest.importorskip("onnxruntime")
pytest.importorskip("rapidocr")
pytest.importorskip("zxingcpp")


def test_opencv_with_windows_did_not_come_in_beside_the_headless_one():
    with pytest.raises(metadata.PackageNotFoundError):
        metadata.version("opencv-python")


def test_the_listed_digests_are_those_of_the_package_itself():
    """Outside source: the notice of licences that the package rapidocr ships."""
    notice = next(
        file for file in metadata.files("rapidocr") or [] if file.name == "MODEL_LICENSES.md"
    ).read_text()
    for model in extra.model_files().values():
        assert model.sha256 in notice
        assert model.path.name in notice


def test_attribution_ships_and_names_every_model():
    text = (resources.files("packet.recognition") / "ATTRIBUTION.txt").read_text("utf-8")

    assert all(model.path.name in text for model in extra.model_files().values())
    assert "Apache License, Version 2.0" in text


def test_a_damaged_model_is_one_sentence_and_no_engine(tmp_path, monkeypatch):
    damaged = {}
    for task, model in extra.model_files().items():
        path = tmp_path / model.path.name
        path.write_bytes(model.path.read_bytes()[:-1] if task == "sign" else b"")
        damaged[task] = extra.ModelFile(path=path, sha256=model.sha256)
    monkeypatch.setattr(extra, "model_files", lambda: damaged)

    assert "missing or damaged" in str(extra.why_not.__wrapped__())
    assert engine.load_engine.__wrapped__() is None


def test_half_an_extra_is_one_sentence_that_names_what_is_missing(monkeypatch):
    monkeypatch.setattr(extra, "missing_packages", lambda: ("zxing-cpp",))

    sentence = extra.why_not.__wrapped__()
    assert "half installed" in sentence
    assert "zxing-cpp" in sentence
    assert engine.load_engine.__wrapped__() is None


def test_reads_with_the_network_closed_without_a_word_and_with_one_thread():
    """In a process of its own: sockets refused, nothing printed, the package of the models and
    its network code never imported."""
    code = (
        "import socket, sys\n"
        "def closed(*_, **__): raise AssertionError('network')\n"
        "socket.socket = socket.create_connection = socket.getaddrinfo = closed\n"
        "import numpy as np\n"
        "from packet.model import Kind\n"
        "from packet.readings import ReadRequest\n"
        "from packet.recognition.engine import load_engine\n"
        "from packet.recognition.read import read_item\n"
        "page = np.full((400, 600, 3), 255, np.uint8)\n"
        "page[200:220, 100:500:7] = 0\n"
        "read_item(ReadRequest(pixels=page, dpi=200.0, size_mm=(76.0, 51.0), kind=Kind.OTHER))\n"
        "one = load_engine()\n"
        "for session in (one.find, one.sign, one.turn):\n"
        "    options = session.get_session_options()\n"
        "    assert options.intra_op_num_threads == options.inter_op_num_threads == 1\n"
        "assert not {'rapidocr', 'requests', 'urllib3'} & set(sys.modules)\n"
    )
    root = Path(engine.__file__).parents[2]
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=root, check=False
    )

    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
