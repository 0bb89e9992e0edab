"""One whole drive of the simulated car, recorded once for all tests that look at a recording; and quick waiting."""

import asyncio
from pathlib import Path

import pytest
from textual._context import active_app

from tests.screen.record import record


@pytest.fixture(scope="session")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return record(tmp_path_factory.mktemp("recorded"))


@pytest.fixture(autouse=True)
def a_plain_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the machine of a developer has set must not show."""
    for name in ("NO_COLOR", "COLORTERM", "TEXTUAL_ANIMATIONS", "TEXTUAL_THEME"):
        monkeypatch.delenv(name, raising=False)


ROUNDS = 3  # a change is laid out in one picture, what it moved in the next


@pytest.fixture(autouse=True)
def a_wait_for_the_loop_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pilot sleeps until the whole process is idle, so the pump's thread makes it wait: the loop alone counts here."""

    async def until_the_loop_is_idle(*_: float) -> None:
        loop, app = asyncio.get_running_loop(), active_app.get()
        for _round in range(ROUNDS):
            quiet = 0
            while quiet < ROUNDS:
                await asyncio.sleep(0)
                quiet = 0 if loop._ready else quiet + 1  # type: ignore[attr-defined]
            app._check_resize()
            app.screen._on_timer_update()

    monkeypatch.setattr("coach.screen.pump.POST_EVERY_S", 0.05)  # a test looks sooner than an eye
    for module in ("textual.pilot", "textual.app"):
        monkeypatch.setattr(f"{module}.wait_for_idle", until_the_loop_is_idle)
