"""What all tests share."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest


@pytest.fixture(autouse=True, scope="session")
def _own_store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Computed sweeps are kept in a folder of the tests', not in the user's."""
    patch = pytest.MonkeyPatch()
    folder = tmp_path_factory.mktemp("store")
    patch.setenv("HARNESSDSL_STORE", str(folder))
    yield folder
    patch.undo()
