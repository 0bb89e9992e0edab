"""What the screen costs: python -m tests.benchmarks.bench_screen. First frame, CPU, pauses, records, a picture.

The last three run headless: Textual composes every frame and writes it nowhere.
"""

import asyncio
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from coach.car.arrivals import Arrival, LinkChange, Request
from coach.journal.reader import open_journal
from coach.screen.app import CoachApp
from coach.screen.drive import DriveScreen
from coach.screen.moment import moment_of
from coach.screen.pump import POST_EVERY_S
from coach.screen.review import ReviewScreen
from coach.session.review import core_for, open_recording, profile_of
from coach.words.units import Units
from tests.screen.cars import CarFeed, Facts, StillSource, until
from tests.screen.record import record

SHOWN = """
    def _display(self, screen, renderable):
        super()._display(screen, renderable)
        if type(screen).__name__ == NAME:
            os._exit(0)
A().run(headless=True)
"""
EMPTY = "import os\nfrom textual.app import App\nNAME = 'Screen'\nclass A(App):" + SHOWN
OURS = "import os\nfrom coach.screen.app import CoachApp\nNAME = 'StartScreen'\nclass A(CoachApp):" + SHOWN
HOUR_S = 3600.0


def first_frame(times: int = 7) -> tuple[float, float]:
    """Seconds from starting Python to the first frame: an empty app, the start screen; medians, taken in turn."""
    taken: dict[str, list[float]] = {EMPTY: [], OURS: []}
    for _ in range(times):
        for code, found in taken.items():
            began = time.perf_counter()
            subprocess.run([sys.executable, "-c", code], check=True, stdout=subprocess.DEVNULL)
            found.append(time.perf_counter() - began)
    return statistics.median(taken[EMPTY]), statistics.median(taken[OURS])


def answers(until_s: float, every_s: float) -> list[Arrival]:
    """Speed, engine speed and readiness of a cruise, ten answers a second in all."""
    from coach.car.arrivals import Answer

    found: list[Arrival] = [LinkChange(0.0, "up", "")]
    questions = ("010D", "010C", "0105", "0111", "0101")
    replies = ("410D48", "410C1F40", "41055A", "411130", "41010007E5A5")
    number, t = 0, 0.0
    while t < until_s:
        which = number % len(questions)
        number += 1
        found.append(Request(round(t, 3), number, questions[which]))
        found.append(Answer(round(t + 0.02, 3), number, "7E8", bytes.fromhex(replies[which])))
        t += every_s
    return found


class Played(StillSource):
    """Plays arrivals: at their own time, or as fast as they are taken, a hundredth of a second of work at a time."""

    def __init__(self, arrivals: list[Arrival], fast: bool) -> None:
        super().__init__(0.0)
        self._arrivals, self._at, self._fast = arrivals, 0, fast
        self._began = time.monotonic()

    def arrivals(self, timeout_s: float) -> tuple[Arrival, ...]:
        if not timeout_s:
            return super().arrivals(0.0)
        if self._fast:
            time.sleep(0.001)
            upto = self._at + 40
        else:
            time.sleep(0.1)
            now = time.monotonic() - self._began
            upto = self._at
            while upto < len(self._arrivals) and self._arrivals[upto].t <= now:
                upto += 1
        taken = tuple(self._arrivals[self._at : upto])
        self._at = min(upto, len(self._arrivals))
        self.t = taken[-1].t if taken else self.t
        return (*taken, *super().arrivals(0.0))

    @property
    def over(self) -> bool:
        return self._at >= len(self._arrivals)


class PlayedFeed(CarFeed):
    """A drive on played arrivals, already past its read-out."""

    def __init__(self, folder: Path, source: Played) -> None:
        super().__init__(folder, label="")
        self.played = source
        from coach.session.drive import Drive

        self.drive = Drive(source, self._beginning("spark_engine_off_leak", True))

    def open(self) -> None:
        self.drive._begin(Facts())
        self.drive.state = "driving"

    def step(self):  # type: ignore[no-untyped-def]
        return self.drive.step(0.1)


async def pauses(so: list[float], end: asyncio.Event) -> None:
    """How late the event loop comes back, again and again."""
    while not end.is_set():
        began = time.perf_counter()
        await asyncio.sleep(0.005)
        so.append(time.perf_counter() - began - 0.005)


async def driven(
    folder: Path, arrivals: list[Arrival], fast: bool, size: tuple[int, int]
) -> tuple[float, float, float, int]:
    """Seconds on the wall, CPU seconds, the longest pause, and records written."""
    feed = PlayedFeed(folder, Played(arrivals, fast))
    screen = DriveScreen(feed, Units(us=True))
    late: list[float] = []
    async with CoachApp(screen).run_test(size=size) as pilot:
        await until(pilot, lambda: screen.stage == "before")
        screen.action_go()
        end = asyncio.Event()
        watching = asyncio.create_task(pauses(late, end))
        began, cpu = time.perf_counter(), time.process_time()
        while not feed.played.over:
            await asyncio.sleep(0.05)
        wall, used = time.perf_counter() - began, time.process_time() - cpu
        end.set()
        await watching
        screen.pump.finish("done")
        await until(pilot, lambda: screen.ended is not None)
    return wall, used, max(late), len(list(open_journal(feed.journal).arrivals()))


async def scrubbed(path: Path) -> tuple[float, float]:
    """The longest jump of a review, page and timeline included, without and with the plots: seconds."""
    screen = ReviewScreen(path)
    async with CoachApp(screen).run_test(size=(120, 40)) as pilot:
        await until(pilot, lambda: screen.scrub is not None)
        assert screen.scrub is not None
        found = []
        for plots in (False, True):
            screen.longest_s = 0.0
            for number in range(40):
                screen.go_to(number * 997 % screen.scrub.end_t)
                await pilot.pause(0)
            found.append(screen.longest_s)
            if not plots:
                screen.action_plots()
        return found[0], found[1]


def moments(path: Path) -> tuple[float, float]:
    """What one picture of a whole drive costs on the mean, and what of it is the plan: seconds."""
    recording = open_recording(path)
    core = core_for(recording.context, recording.header, profile_of(recording.context)[0])
    spent, number = [0.0, 0.0], 0
    for at, arrival in enumerate(recording.arrivals()):
        core.feed(arrival)
        if at % 40:
            continue
        number += 1
        began = time.perf_counter()
        moment_of(core, Units(us=True), "driving", core.now)
        drawn = time.perf_counter()
        core.plan()
        spent = [spent[0] + drawn - began, spent[1] + time.perf_counter() - drawn]
    return spent[0] / number, spent[1] / number


def main() -> None:
    """Print it all."""
    empty, ours = first_frame()
    print(f"first frame: empty app {empty:.2f} s, start screen {ours:.2f} s, {ours / empty:.2f} times")
    with tempfile.TemporaryDirectory() as made:
        whole, planning = moments(record(Path(made)))
        share = whole / POST_EVERY_S * 100
        print(f"a moment of a drive: {whole * 1e3:.2f} ms, a plan {planning * 1e3:.2f} ms; {share:.1f} % of a core")
        for size in ((80, 24), (120, 40)):
            folder = Path(tempfile.mkdtemp(dir=made))
            wall, used, late, _ = asyncio.run(driven(folder, answers(20.0, 0.1), False, size))
            share = used / wall * 100
            print(f"{size}: 10 answers a second, {wall:.0f} s: {share:.1f} % CPU, longest pause {late * 1000:.0f} ms")
        arrivals = answers(HOUR_S, 0.1)
        folder = Path(tempfile.mkdtemp(dir=made))
        wall, used, late, written = asyncio.run(driven(folder, arrivals, True, (80, 24)))
        print(
            f"an hour in {wall:.1f} s: {len(arrivals)} came in, {written} written, longest pause {late * 1000:.0f} ms"
        )
        page, plots = asyncio.run(scrubbed(folder / "drive.journal"))
        print(f"a jump in that hour: {page * 1000:.0f} ms with the page, {plots * 1000:.0f} ms with the plots")


if __name__ == "__main__":
    main()
