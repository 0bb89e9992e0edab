"""The plots as one vector drawing: panels beneath each other over one time axis, phases as strips, marks as numbers.

Colours stand in attributes, so that it reads by itself; a page may restyle the classes. Nothing rests on colour alone.
"""

from collections.abc import Callable, Iterator
from html import escape
from math import ceil, floor, log10

from coach.words.paper import Figure, Panel, Pieces, Strip
from coach.words.units import clock

WIDTH, LEFT, RIGHT = 720, 44, 12
HEAD, PANEL, BETWEEN = 20, 74, 25
STRIP, AXIS = 25, 22
NEAR = 17  # two numbers closer than this stand as one label
STEPS_S = (1, 2, 5, 10, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 28800, 86400)
MOST_TICKS = 9
Scale = Callable[[float], float]

INK, QUIET, GRID = "#1a1a1a", "#555555", "#d4d4d4"


def svg(figure: Figure, key: str) -> str:
    """The drawing. `key` makes its ids unique on the page."""
    plots = HEAD + len(figure.panels) * (PANEL + BETWEEN)
    height = plots + AXIS + (len(figure.strips) * STRIP + 8 if figure.strips else 0)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img"'
        f' aria-labelledby="{key}-t {key}-d" font-family="sans-serif" font-size="11">',
        f'<title id="{key}-t">{escape(figure.title)}</title><desc id="{key}-d">{escape(figure.words)}</desc>',
        *_time_axis(figure.end_t, plots),
        *_marks(figure, plots),
    ]
    for number, panel in enumerate(figure.panels):
        parts += _panel(panel, HEAD + number * (PANEL + BETWEEN) + BETWEEN, figure.end_t)
    for number, strip in enumerate(figure.strips):
        parts += _strip(strip, plots + AXIS + 8 + number * STRIP, figure.end_t)
    return "\n".join([*parts, "</svg>"])


def _x(t: float, end_t: float) -> float:
    return round(LEFT + max(0.0, min(1.0, t / end_t)) * (WIDTH - LEFT - RIGHT), 1)


def _text(x: float, y: float, words: str, anchor: str = "start", kind: str = "ink") -> str:
    fill = INK if kind == "ink" else QUIET
    return f'<text class="{kind}" x="{x:g}" y="{y:g}" text-anchor="{anchor}" fill="{fill}">{escape(words)}</text>'


def _name(y: float, words: str) -> str:
    """A panel's name, on a ground that the lines crossing it do not reach."""
    ground = f'<rect class="ground" x="{LEFT + 1}" y="{y - 11:g}" width="{6 * len(words)}" height="14" fill="#ffffff"/>'
    return ground + _text(LEFT + 1, y, words)


def _line(kind: str, path: str, stroke: str, width: float, dash: str = "") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path class="{kind}" d="{path}" fill="none" stroke="{stroke}" stroke-width="{width:g}"'
        f' stroke-linecap="round" stroke-linejoin="round"{dashed}/>'
    )


# ---------------------------------------------------------------- axes


def _time_axis(end_t: float, bottom: int) -> Iterator[str]:
    step = next((s for s in STEPS_S if end_t / s <= MOST_TICKS), STEPS_S[-1])
    ticks = [number * step for number in range(int(end_t // step) + 1)][:200]
    grid = "".join(f"M{_x(t, end_t):g} {HEAD}V{bottom}" for t in ticks)
    yield _line("grid", grid, GRID, 0.7)
    for t in ticks:
        room = WIDTH - _x(t, end_t)
        yield _text(_x(t, end_t), bottom + 14, clock(t), "end" if room < 20 else "middle", "quiet")


def scale(low: float, high: float, from_zero: bool) -> tuple[float, float, float]:
    """The ends of an axis and the step of its ticks: round numbers, three to five of them."""
    low = min(0.0, low) if from_zero else low
    span = high - low if high > low else 1.0
    rough = span / 3
    power = 10.0 ** floor(log10(rough))
    step = next(factor * power for factor in (1, 2, 5, 10) if factor * power >= rough)
    return floor(low / step) * step, ceil((low + span) / step) * step, step


# ---------------------------------------------------------------- a panel


def _panel(panel: Panel, top: int, end_t: float) -> Iterator[str]:
    low, high, step = scale(panel.low, panel.high, from_zero=not panel.unit.startswith("°"))

    def y(value: float) -> float:
        return round(top + PANEL - (value - low) / (high - low) * PANEL, 1)

    ticks = [low + step * number for number in range(round((high - low) / step) + 1)]
    yield _name(top - 7, f"{panel.name}, {panel.unit}")
    yield _line("grid", "".join(f"M{LEFT} {y(tick):g}H{WIDTH - RIGHT}" for tick in ticks), GRID, 0.7)
    yield from (_text(LEFT - 5, y(tick) + 4, f"{tick:g}", "end", "quiet") for tick in ticks)
    yield _line("line", path(panel.pieces, lambda t: _x(t, end_t), y), INK, 1.3)


def path(pieces: Pieces, x: Scale, y: Scale) -> str:
    """One path: pieces are not joined, a point alone is a dot."""
    runs = []
    for piece in pieces:
        points = [f"{x(t):g} {y(value):g}" for t, value in piece]
        once = [point for at, point in enumerate(points) if at == 0 or point != points[at - 1]]
        runs.append(f"M{once[0]}" + ("L" + " ".join(once[1:]) if len(once) > 1 else "h0"))
    return "".join(runs)


# ---------------------------------------------------------------- strips and marks


def _strip(strip: Strip, top: int, end_t: float) -> Iterator[str]:
    done = f", driven at {clock(strip.done_t)}" if strip.done_t is not None else ""
    yield _text(LEFT, top + 9, f"{strip.name}{done}")
    yield _line("grid", f"M{LEFT} {top + 17}H{WIDTH - RIGHT}", GRID, 0.7)
    for x, right in _bars([(_x(began, end_t), _x(ended, end_t)) for began, ended in strip.stretches]):
        width = max(1.0, round(right - x, 1))
        yield f'<rect class="held" x="{x:g}" y="{top + 14}" width="{width:g}" height="6" fill="{INK}"/>'
    if strip.done_t is not None:
        x = _x(strip.done_t, end_t)
        diamond = f"M{x:g} {top + 12}l5 5l-5 5l-5 -5z"
        yield f'<path class="done" d="{diamond}" fill="#ffffff" stroke="{INK}" stroke-width="1.3"/>'


def _bars(places: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Bars between which less than one unit is free become one: no more of them than can be seen."""
    bars: list[tuple[float, float]] = []
    for left, right in sorted(places):
        if bars and left - bars[-1][1] < 1.0:
            bars[-1] = (bars[-1][0], max(right, bars[-1][1]))
        else:
            bars.append((left, right))
    return bars


def _marks(figure: Figure, bottom: int) -> Iterator[str]:
    places = [(_x(t, figure.end_t), number) for t, number in figure.marks]
    if places:
        yield _line("mark", "".join(f"M{x:g} {HEAD - 4}V{bottom}" for x, _ in places), QUIET, 0.8, "2 3")
    for x, words in grouped(places):
        yield _text(x, HEAD - 8, words, "middle")


def grouped(places: list[tuple[float, int]]) -> list[tuple[float, str]]:
    """Numbers that would stand on each other become one label over their middle."""
    groups: list[list[tuple[float, int]]] = []
    for place in sorted(places):
        wide = 5 * len(groups[-1]) if groups and len(groups[-1]) > 1 else 0
        if groups and place[0] - groups[-1][-1][0] < NEAR + min(wide, 12):
            groups[-1].append(place)
        else:
            groups.append([place])
    return [(round((g[0][0] + g[-1][0]) / 2, 1), _span(sorted(n for _, n in g))) for g in groups]


def _span(numbers: list[int]) -> str:
    return str(numbers[0]) if len(numbers) == 1 else f"{numbers[0]}–{numbers[-1]}"
