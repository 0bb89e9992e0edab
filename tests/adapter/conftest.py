"""No test waits for python-OBD's fixed pauses, and none for a real deadline."""

from collections.abc import Iterator
from types import SimpleNamespace

import pytest

from coach.adapter.setup import _library
from coach.adapter.wire import Deadlines

QUICK = Deadlines(query_s=0.25, pending_s=0.5, search_s=1.0, dead_s=0.6, setup_s=0.25, baud_s=0.05, quiet_s=0.02)


@pytest.fixture(autouse=True)
def _no_pauses(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """python-OBD sleeps a second after a reset; a pseudo-terminal needs none of that."""
    monkeypatch.setattr(_library(), "time", SimpleNamespace(sleep=lambda _seconds: None))
    yield
