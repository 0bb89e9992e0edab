"""What may change the plan, by the kind of happening: the ids that `PlanChanged.cause` names."""

from coach.car.happenings import (
    CodeAppeared,
    CodesCleared,
    CycleBegan,
    CycleStatusDistrusted,
    CycleStatusTrusted,
    EngineStarted,
    Happening,
    MonitorChanged,
)
from coach.drive.happenings import (
    GateClosed,
    GateOpened,
    MonitorNotConfirmed,
    PhaseDriven,
    PhaseGivenUp,
    PhaseSkipped,
    WarmUpStalled,
)

CAUSES: dict[type[Happening], str] = {
    PhaseDriven: "phase_driven",
    MonitorChanged: "monitor_changed",
    MonitorNotConfirmed: "not_confirmed",
    PhaseSkipped: "skipped",
    PhaseGivenUp: "given_up",
    WarmUpStalled: "stays_cold",
    CycleBegan: "new_driving_cycle",
    CycleStatusTrusted: "cycle_status",
    CycleStatusDistrusted: "cycle_status",
    CodesCleared: "codes_cleared",
    CodeAppeared: "code_appeared",
    EngineStarted: "engine_started",
    GateClosed: "gate_closed",
    GateOpened: "gate_opened",
}
