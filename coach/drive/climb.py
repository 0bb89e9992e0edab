"""How the ladders are climbed: a phase was driven, a bit moved, a wait is over. Called by the core alone."""

from typing import TYPE_CHECKING

from coach.car.happenings import CycleMonitorChanged, Happening, MonitorChanged
from coach.drive.gates import NEVER
from coach.drive.happenings import PhaseDriven
from coach.drive.ladder import Ladder

if TYPE_CHECKING:
    from coach.drive.core import Core


def phase_driven(core: "Core", happening: Happening) -> None:
    """Every ladder that has the phase on it, of a monitor that is not complete or is to run in this cycle."""
    assert isinstance(happening, PhaseDriven)
    core.patience.progress(happening.phase)
    for monitor, ladder in core.ladders.items():
        once_more = core.clean.asks(monitor, core.wanted, core.ladders)
        if once_more or core.car.reported.monitors.get(monitor) in (None, "incomplete"):
            ladder.driven(happening.phase, happening.t, core.built.wait_s)
        if once_more and ladder.wait_until_t is not None and core.clean.rung_driven(monitor):
            ladder.wait_until_t = None  # no bit will move: it is complete since long


def monitor_changed(core: "Core", happening: Happening) -> None:
    """A bit moved: a wait is over, or a phase driven unseen has its wait."""
    assert isinstance(happening, MonitorChanged)
    ladder = core.ladders.get(happening.monitor)
    core.bit_moved = core.bit_moved or (happening.before, happening.after) == ("incomplete", "complete")
    if ladder is not None and happening.after == "complete":
        ladder.wait_until_t = None
    elif ladder is not None and ladder.wait_until_t == NEVER:  # driven before anybody could see the bit
        ladder.wait_until_t = happening.t + core.built.wait_s


def cycle_monitor_changed(core: "Core", happening: Happening, _out: list[Happening]) -> None:
    """By PID 41 the monitor has run in this cycle: nothing is asked for it while the bit of PID 01 has its wait."""
    assert isinstance(happening, CycleMonitorChanged)
    ladder = core.ladders.get(happening.monitor)
    if ladder is not None and not ladder.ran and _ran(core, happening.monitor):
        ladder.wait_until_t = happening.t + core.built.wait_s


def _ran(core: "Core", monitor: str) -> bool:
    """PID 41 went from "to run" to "complete" on every unit that has the monitor; the bit of PID 01 has not moved."""
    told = core.car.cycle_states().get(monitor) == "complete" and monitor in core.clean.watch.ran
    return told and core.car.reported.monitors.get(monitor) == "incomplete"


def waited(core: "Core", ladder: Ladder, out: list[Happening]) -> None:
    """The wait for a bit is over without it."""
    t, monitor = ladder.wait_until_t or core.now, ladder.need.monitor
    once_more = core.clean.asks(monitor, core.wanted, core.ladders)
    if core.clean.chosen and not once_more and monitor in core.clean.monitors(core.wanted, core.ladders):
        ladder.wait_until_t = None  # it has run meanwhile
        return
    if core.car.reported.monitors.get(monitor) is None:
        ladder.wait_until_t = NEVER  # nothing says whether the car has confirmed
        return
    if _ran(core, monitor):
        ladder.shows_later(t, out)
        return
    if not core.bit_moved and not once_more:
        _unseen(core, ladder, t, out)
        return
    for phase in ladder.waited(t, core.built.repeats_max, out):
        core.trackers[phase].again()


def _unseen(core: "Core", ladder: Ladder, t: float, out: list[Happening]) -> None:
    """The car has shown no bit at all on this drive: the rest first, then the key off and on, before any repeat."""
    if core.plan().drive:
        ladder.wait_until_t = t + core.built.wait_s
    else:
        ladder.show_at_key_off(t, out)


def once_more(core: "Core") -> None:
    """The monitors that are to run in this driving cycle begin at the bottom of their ladders, whatever was driven."""
    if not core.clean.chosen:
        return
    for monitor in core.clean.monitors(core.wanted, core.ladders):
        ladder = core.ladders[monitor]
        ladder.start_over()
        for phase in {phase for rung in ladder.need.rungs for phase in rung}:
            core.trackers[phase].again()
