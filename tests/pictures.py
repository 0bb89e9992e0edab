"""Makes the README's pictures from the program itself: python -m tests.pictures. Always the same, byte for byte.

A simulated car is driven in-process, held at a moment, and its screen written as SVG into tests/pictures/.
"""

import asyncio
import re
import sys
import tempfile
from pathlib import Path

from coach.screen.app import CoachApp
from coach.screen.drive import DriveScreen
from coach.screen.pump import Ended, Moment, Pump, Ready
from coach.screen.review import ReviewScreen
from coach.screen.speech import Voice
from coach.screen.start import Chosen, StartScreen
from coach.words.units import Units
from tests.screen.cars import CarFeed, at, until

PICTURES = Path(__file__).parent / "pictures"
Size = tuple[int, int]


async def drive(folder: Path, size: Size, look: str, t: float, alone: bool = False) -> str:
    """The drive at `t`."""
    feed = CarFeed(Path(tempfile.mkdtemp(dir=folder)), label="simulated")
    screen = DriveScreen(feed, Units(us=True), voice=Voice(lambda name: None), alone=alone, reader=feed.source.now)
    app = CoachApp(screen, look=look)
    async with app.run_test(size=size) as pilot:
        await until(pilot, lambda: screen.stage == "before")
        if t > 0:
            feed.hold = lambda drive: True
            await pilot.press("enter")
            feed.hold = at(t)
            await until(pilot, lambda: feed.source.held and screen.moment is not None and screen.moment.t >= t - 1)
            await pilot.pause(0.5)
        return plain(app.export_screenshot(title="coach"))


async def review(path: Path, size: Size, look: str, t: float, plots: bool) -> str:
    """A recording at `t`."""
    screen = ReviewScreen(path)
    app = CoachApp(screen, look=look)
    async with app.run_test(size=size) as pilot:
        await until(pilot, lambda: screen.scrub is not None)
        screen.go_to(t)
        if plots:
            screen.action_plots()
        await pilot.pause()
        return plain(app.export_screenshot(title="coach"))


async def start(folder: Path, size: Size, look: str) -> str:
    """The start, on a computer with one adapter."""
    first = StartScreen(Chosen(folder=folder), lambda: (("/dev/rfcomm0", "Bluetooth serial"),))
    app = CoachApp(first, look=look, chosen=first.chosen)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        return plain(app.export_screenshot(title="coach"))


def plain(svg: str) -> str:
    """Without what differs from run to run, and without fonts from the network."""
    svg = re.sub(r"@font-face \{.*?\}\s*", "", svg, flags=re.DOTALL)
    return re.sub(r"terminal-\d+", "coach", svg)


def recorded(folder: Path) -> Path:
    """A whole drive, recorded."""
    feed = CarFeed(Path(tempfile.mkdtemp(dir=folder)))

    def post(what: object) -> None:
        if isinstance(what, Ready):
            pump.go()
        elif isinstance(what, Moment) and what.seen is not None and what.seen.kind in ("nothing", "done"):
            pump.finish("done")
        elif isinstance(what, Ended):
            assert what.path

    pump = Pump(feed, Units(us=True), post)
    pump.run()
    return feed.journal


async def readme(folder: Path) -> None:
    """The pictures of the README."""
    PICTURES.mkdir(exist_ok=True)
    (PICTURES / "drive.svg").write_text(await drive(folder, (80, 24), "dark", 640.0), encoding="utf-8")
    (PICTURES / "review.svg").write_text(
        await review(recorded(folder), (120, 40), "light", 640.0, True), encoding="utf-8"
    )


async def every(folder: Path, out: Path) -> None:
    """Every screen in two sizes and both looks, to be looked at."""
    out.mkdir(parents=True, exist_ok=True)
    path = recorded(folder)
    for look in ("dark", "light"):
        for size in ((80, 24), (120, 40)):
            name = f"{size[0]}x{size[1]}-{look}.svg"
            (out / f"start-{name}").write_text(await start(folder, size, look))
            (out / f"before-{name}").write_text(await drive(folder, size, look, 0.0))
            (out / f"drive-{name}").write_text(await drive(folder, size, look, 640.0))
            (out / f"review-{name}").write_text(await review(path, size, look, 660.0, False))
            (out / f"plots-{name}").write_text(await review(path, size, look, 660.0, True))


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        asyncio.run(every(Path(made), Path(sys.argv[1])) if len(sys.argv) > 1 else readme(Path(made)))
