"""Plots of a recording: speed, throttle, coolant and engine speed over the whole of it, and the place one is at."""

import math

from textual.reactive import reactive
from textual_plotext import PlotextPlot

from coach.session.scrub import Samples, Scrub
from coach.words.units import KM_PER_MILE, Units

MARKS = 5  # figures on an axis; our judgement: a plot of forty columns has room for no more
POINTS = 160  # a plot of forty columns has 160 dots: more are not seen

NAMES = {"speed_kmh": "speed", "coolant_c": "coolant", "rpm": "engine speed, rpm", "throttle_pct": "throttle %"}


class Plots(PlotextPlot):
    """Four plots. Set `at` to move the place."""

    at: reactive[float] = reactive(0.0)

    def __init__(self, units: Units, id: str | None = None) -> None:
        super().__init__(id=id)
        self.auto_theme = False
        self.theme = "clear"  # colours come from the stylesheet
        self.units = units
        self._samples: dict[str, Samples] = {}
        self._end_t = 0.0

    def take(self, scrub: Scrub) -> None:
        """A whole recording, thinned to what can be seen."""
        self._end_t = scrub.end_t
        order = ("speed_kmh", scrub.foot(), "coolant_c", "rpm")
        self._samples = {signal: _thinned(scrub.samples.get(signal, []), scrub.end_t) for signal in order}
        self._draw()

    def watch_at(self) -> None:
        """The place moved."""
        if self.display and self._samples:
            self._draw()

    def _draw(self) -> None:
        self.plt.clear_figure()
        self.plt.subplots(2, 2)
        for number, signal in enumerate(self._samples):
            plot = self.plt.subplot(number // 2 + 1, number % 2 + 1)
            plot.theme("clear")
            plot.title(self._title(signal))
            samples = self._samples[signal]
            if samples:
                plot.plot([t / 60 for t, _ in samples], [self._shown(signal, v) for _, v in samples], marker="braille")
                plot.vline(self.at / 60)
                plot.xlim(0, self._end_t / 60)
                plot.xticks(marks(0.0, self._end_t / 60, MARKS))
                shown = [self._shown(signal, value) for _, value in samples]
                plot.yticks(marks(min(shown), max(shown), MARKS))
        self.refresh()

    def _title(self, signal: str) -> str:
        name = NAMES.get(signal, "accelerator %")
        if not self._samples[signal]:
            return f"{name}: not recorded"
        if signal == "speed_kmh":
            return f"{name}, {'mph' if self.units.us else 'km/h'}, by minutes"
        if signal == "coolant_c":
            return f"{name}, {'°F' if self.units.us else '°C'}"
        return name

    def _shown(self, signal: str, value: float) -> float:
        if signal == "speed_kmh" and self.units.us:
            return value / KM_PER_MILE
        if signal == "coolant_c" and self.units.us:
            return value * 1.8 + 32
        return value


def marks(low: float, high: float, most: int) -> list[float]:
    """Round numbers from low to high, at most so many: steps of 1, 2 or 5 times a power of ten."""
    size = 10.0 ** math.floor(math.log10(max(high - low, 1.0) / most))
    step = next(size * times for times in (1, 2, 5, 10) if (high - low) / (size * times) <= most - 1)
    first = math.ceil(low / step)
    return [float(number * step) for number in range(first, math.floor(high / step) + 1)]


def _thinned(samples: Samples, end_t: float) -> Samples:
    """The highest of each stretch: a peak stays a peak."""
    if len(samples) <= POINTS:
        return samples
    each_s = end_t / POINTS
    best: dict[int, tuple[float, float]] = {}
    for t, value in samples:
        place = int(t / each_s)
        if place not in best or value > best[place][1]:
            best[place] = (t, value)
    return [best[place] for place in sorted(best)]
