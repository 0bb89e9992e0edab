"""What the simulated driver is asked to do: the coach's phase of the moment as a cue for pedals."""

from coach.drive.core import Core
from coach.drive.schema import CruiseHold, DecelerationHold, LoadStepHold, Phase, StopAndGoHold, WarmUpHold
from coach.simulator.driver import Cue

EASY = Cue("cruise", 60, 80)
"""Between phases, as long as a monitor may still be confirmed: an easy road."""
STAND = Cue("key_off")
ROLL_SPARE_KMH = 2.0  # our judgement: a driver begins a little above and lets it roll a little below what was said


def cue_for(core: Core, phase: str | None, waiting: bool) -> Cue:
    """The cue for the phase the coach asks for; none: nothing is asked any more."""
    if phase is not None:
        return _cue(core.built.profile.phase[phase])
    return EASY if waiting else STAND


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
