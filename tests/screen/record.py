"""One whole drive of the simulated car, recorded, with the last look after key off and key on."""

from pathlib import Path

from coach.screen.pump import Ended, Moment, Pump, Ready
from coach.words.units import Units
from tests.screen.cars import CarFeed

A_LITTLE_SLOW = 13
"""A driver who lets a cruise fall a little below its band and keeps it within the wider limits."""


def record(folder: Path) -> Path:
    """The journal of the drive."""
    feed = CarFeed(folder)
    feed.source.seed = A_LITTLE_SLOW
    ended: list[Ended] = []

    def post(what: object) -> None:
        if isinstance(what, Ready):
            pump.go()
        elif isinstance(what, Ended):
            ended.append(what)
        elif isinstance(what, Moment) and what.seen is not None and what.seen.kind in ("nothing", "done", "barred"):
            pump.key_off()
            pump.read_again()

    pump = Pump(feed, Units(us=True), post)
    pump.run()
    assert ended[0].path
    return Path(ended[0].path)
