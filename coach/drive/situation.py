"""What a plan depends on, gathered from the parts of a drive. It reads and changes nothing."""

from collections.abc import Mapping
from dataclasses import dataclass

from coach.car.car import Car
from coach.drive.build import Built
from coach.drive.clean import CleanCycles
from coach.drive.ladder import Ladder
from coach.drive.patience import Patience
from coach.drive.plan import Situation, regime_at
from coach.drive.stop import StopWatch
from coach.drive.trackers import Tracker
from coach.drive.wanted import Wanted
from coach.drive.warming import WarmUp
from coach.j1979.monitors import CONTINUOUS


@dataclass(frozen=True, slots=True)
class Parts:
    """The parts of a drive that a plan looks at."""

    built: Built
    car: Car
    trackers: Mapping[str, Tracker]
    ladders: Mapping[str, Ladder]
    stop: StopWatch
    patience: Patience
    wanted: Wanted
    clean: CleanCycles

    def situation(self, now: float) -> Situation:
        """The drive as the plan has to see it at `now` seconds."""
        states = self.car.last_word()
        target = self.wanted.monitors(states, self.ladders)
        if self.clean.chosen:
            states = self.clean.states(states, self.wanted, self.ladders)
            target = self.clean.monitors(self.wanted, self.ladders)
        off, perhaps_off = self.car.disabled_now()
        return Situation(
            self.trackers,
            self.built.phases,
            self.ladders,
            self.built.depends,
            states,
            tuple(monitor for monitor in target if monitor not in CONTINUOUS or states.get(monitor) == "incomplete"),
            self.wanted.skipped,
            self.patience.given_up,
            self.wanted.of_codes(self.stop.came),  # more driving completes nothing there
            self.wanted.speed_max_kmh,
            self.car.cycle.run_time_at_least_s(now),
            regime_at(self.car.fresh("speed_kmh", self.built.bridge_s)),
            frozenset(self.wanted.repaired.values()),
            off,
            perhaps_off,
        )

    def basis(self) -> object:
        """Everything that decides which phases a plan holds; planning anew is needed only when it changed."""
        return (
            tuple(self.car.reported.monitors.items()),
            tuple((ladder.choices(), ladder.spent, ladder.key_off, ladder.ran) for ladder in self.ladders.values()),
            tuple((tracker.gate.today, tracker.driven_t is None) for tracker in self.trackers.values()),
            tuple(tracker.stalled_c for tracker in self.trackers.values() if isinstance(tracker, WarmUp)),
            self.wanted.skipped,
            self.patience.given_up,
            self.car.disabled_now(),
            self.stop.came,
            self.wanted.target,
            self.wanted.speed_max_kmh,
            (self.clean.chosen, self.clean.codes, self.clean.watch.ran, self.clean.driven),
        )
