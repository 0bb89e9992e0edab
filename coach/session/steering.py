"""What the simulated driver is asked to do: the coach's phase of the moment as a cue for pedals."""

from coach.drive.core import Core
from coach.drive.schema import CruiseHold, DecelerationHold, LoadStepHold, Phase, StopAndGoHold, WarmUpHold
from coach.simulator.driver import Cue

EASY = Cue("cruise", 60, 80)
"""Between phases, as long as a monitor may still be confirmed: an easy road."""
STAND = Cue("key_off")
TOWN = Cue("stop_and_go", 30, 50)
"""Where a driving cycle still lacks its idle."""
NEAR_KMH = 8.0  # our judgement: near the speed of a freeze frame its engine speed is near too, in the same gear
ROLL_SPARE_KMH = 2.0  # our judgement: a driver begins a little above and lets it roll a little below what was said


def cue_for(core: Core, phase: str | None, waiting: bool) -> Cue:
    """The cue for the phase the coach asks for; none: nothing is asked any more."""
    if phase is not None:
        return _cue(core.built.profile.phase[phase])
    return _between(core) if waiting else STAND


def _between(core: Core) -> Cue:
    """No phase is asked for, and driving on brings something."""
    if not core.clean.chosen:
        return EASY
    now, speed = core.clean_now(), core.clean.frame_kmh
    if now.near is not None and not now.near.full and speed is not None:
        return Cue("cruise", max(speed - NEAR_KMH, NEAR_KMH), speed + NEAR_KMH)
    return TOWN if core.car.denominator.lacks() == ("idle",) else EASY


def _cue(form: Phase) -> Cue:
    hold = form.hold
    if isinstance(hold, CruiseHold):
        return Cue("cruise", hold.speed.low, hold.speed.high)
    if isinstance(hold, WarmUpHold):
        return Cue("warm_up", hold.speed.low, hold.speed.high)
    if isinstance(hold, DecelerationHold):
        return Cue("roll", hold.end.value - ROLL_SPARE_KMH, hold.start.value + ROLL_SPARE_KMH)
    if isinstance(hold, StopAndGoHold):
        return Cue("stop_and_go", hold.speed.low, hold.speed.high)
    if isinstance(hold, LoadStepHold):
        return Cue("load_step", None, hold.end.value + 1)
    return Cue("idle")
