"""Fixtures that every room's tests share."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import settings

settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")

CORPUS = Path(__file__).resolve().parents[2] / "shared" / "corpus"


@pytest.fixture
def corpus_path():
    """A function name -> Path into the corpus beside the checkout; skips where it is not."""

    def find(name: str) -> Path:
        path = CORPUS / name
        if not path.is_file():
            pytest.skip(f"corpus file {name} is not beside this checkout")
        return path

    return find


@pytest.fixture(scope="session", autouse=True)
def _own_cache(tmp_path_factory):
    """No test ever touches the user's own cache of scans, or reads texts unasked."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PACKET_CACHE", str(tmp_path_factory.mktemp("cache")))
        patch.setenv("PACKET_NO_READ", "1")  # reading texts takes time: tests of it unset this
        yield
