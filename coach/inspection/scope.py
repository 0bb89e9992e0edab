"""Whether a rule is for this car at all: status of the programme, model year, fuel, weight, the years it looks at."""

from collections.abc import Iterator

from coach.inspection.clauses import Reason, Vehicle
from coach.inspection.rules import Rule
from coach.inspection.schema import Scope, Weight


def scope(rule: Rule, vehicle: Vehicle) -> Iterator[Reason]:
    """Reasons for which the rule cannot be applied; nothing when it can. Remarks are `for`."""
    if rule.ended is not None:
        yield Reason("programme_ended", "open", rule.ended.sure)
    if rule.status == "unknown":
        yield Reason("programme_unknown", "open", rule.sure)
    if vehicle.fuel is None:
        yield Reason("fuel_unknown", "open", "found")
    if vehicle.model_year is None and vehicle.disputed_year is not None:
        yield Reason("model_year_disputed", "open", "found", (), (), vehicle.disputed_year)
    elif vehicle.model_year is None:
        yield Reason("model_year_unknown", "open", "found")
    if vehicle.fuel is None or vehicle.model_year is None:
        return
    yield from _years(rule.scope, vehicle, vehicle.model_year)
    if any(band.fuel == vehicle.fuel for band in rule.scope.bands):
        yield from _bands(rule.scope, vehicle, vehicle.model_year)
    elif rule.scope.weight is not None:
        yield from _weight(rule.scope.weight, vehicle)


def _years(scope: Scope, vehicle: Vehicle, model_year: int) -> Iterator[Reason]:
    first = getattr(scope, vehicle.fuel or "gasoline")
    if first.model_year is None:
        yield Reason("fuel_scope_not_stated", "open", first.sure)
    elif model_year < first.model_year:
        yield Reason("older_than_scope", "open", first.sure, (), (), model_year, first.model_year)
    if first.alternative_only:
        yield Reason("alternative_fuel_only", "open", first.sure)
    window = scope.window
    if window is None:
        return
    newest, oldest = vehicle.this_year - window.newest_offset, vehicle.this_year - window.oldest_offset
    if model_year > newest:
        yield Reason("newer_than_window", "open", window.sure, (), (), model_year, newest)
    elif model_year < oldest:
        yield Reason("older_than_window", "open", window.sure, (), (), model_year, oldest)


def _weight(weight: Weight, vehicle: Vehicle) -> Iterator[Reason]:
    if vehicle.gvwr_lb is None:
        heavy_only = weight.min_lb is not None
        number = weight.min_lb if heavy_only else weight.max_lb
        yield Reason("weight_not_told", "open" if heavy_only else "for", weight.sure, (), (), None, number)
    elif weight.max_lb is not None and vehicle.gvwr_lb > weight.max_lb:
        yield Reason("too_heavy", "open", weight.sure, (), (), vehicle.gvwr_lb, weight.max_lb)
    elif weight.min_lb is not None and vehicle.gvwr_lb < weight.min_lb:
        yield Reason("too_light", "open", weight.sure, (), (), vehicle.gvwr_lb, weight.min_lb)


def _bands(scope: Scope, vehicle: Vehicle, model_year: int) -> Iterator[Reason]:
    """Weight bands with first model years of their own. A weight not told is taken as that of a car, and said."""
    weight_lb = 0.0 if vehicle.gvwr_lb is None else vehicle.gvwr_lb
    fits = [
        band
        for band in scope.bands
        if band.fuel == vehicle.fuel
        and (band.min_lb is None or weight_lb >= band.min_lb)
        and (band.max_lb is None or weight_lb <= band.max_lb)
    ]
    if vehicle.gvwr_lb is None:
        top = next((band.max_lb for band in fits), None)
        yield Reason("weight_not_told", "for", "found", (), (), None, top)
    if not fits:
        yield Reason("too_heavy", "open", "found", (), (), vehicle.gvwr_lb, None)
    elif model_year < fits[0].first_model_year:
        yield Reason("older_than_scope", "open", "found", (), (), model_year, fits[0].first_model_year)
