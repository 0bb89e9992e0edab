"""One whole drive of the simulated car, recorded once for all tests that look at a recording."""

from pathlib import Path

import pytest

from coach.screen.pump import Ended, Moment, Pump, Ready
from coach.words.units import Units
from tests.screen.cars import CarFeed


@pytest.fixture(scope="session")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    feed = CarFeed(tmp_path_factory.mktemp("recorded"))
    ended: list[Ended] = []

    def post(what: object) -> None:
        if isinstance(what, Ready):
            pump.go()
        elif isinstance(what, Ended):
            ended.append(what)
        elif isinstance(what, Moment) and what.seen is not None and what.seen.kind in ("nothing", "done"):
            pump.key_off()
            pump.read_again()

    pump = Pump(feed, Units(us=True), post)
    pump.run()
    assert ended[0].path
    return Path(ended[0].path)


@pytest.fixture(autouse=True)
def a_plain_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the machine of a developer has set must not show."""
    for name in ("NO_COLOR", "COLORTERM", "TEXTUAL_ANIMATIONS", "TEXTUAL_THEME"):
        monkeypatch.delenv(name, raising=False)
