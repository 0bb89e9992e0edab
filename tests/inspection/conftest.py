"""No test waits for python-OBD's fixed pauses."""

from types import SimpleNamespace

import pytest

from coach.adapter.setup import _library


@pytest.fixture
def no_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    """python-OBD sleeps a second after a reset; a pseudo-terminal needs none of that."""
    monkeypatch.setattr(_library(), "time", SimpleNamespace(sleep=lambda _seconds: None))
