"""The parts that are only drawn: figures, ruler, bar, strip, and the one place for what was said."""

from typing import get_args

import pytest
from textual.binding import Binding

from coach.car.arrivals import LinkState
from coach.screen import page, stages
from coach.screen.app import CoachApp
from coach.screen.drive import DriveScreen
from coach.screen.job import JobScreen
from coach.screen.keys import CoachScreen, ReadScreen
from coach.screen.look import ON, WRITTEN, palettes
from coach.screen.numerals import SIZES, figures, large
from coach.screen.review import ReviewScreen
from coach.screen.ruler import bar, fitting, ruler, where
from coach.screen.start import StartScreen
from coach.screen.strip import strip
from coach.screen.ways import Ways
from coach.words.announce import CUES, LEAST_SHOWN_S, PRIORITY, Said
from coach.words.coaching import Gauge
from coach.words.sentences import LINKS
from coach.words.shown import LONGEST_TIMES, TAKES_BACK, WAITS_S, Board
from tests.screen.contrast import contrast


def test_every_state_of_the_link_has_words_of_its_own() -> None:
    states = set(get_args(LinkState))
    assert set(LINKS) == set(page.LINKS) == states
    assert set(stages.WAITING) == states - {"lost"}
    assert len(set(LINKS.values())) == len(set(page.LINKS.values())) == len(states)


@pytest.mark.parametrize("look", ["dark", "light"])
@pytest.mark.parametrize("ground", ON)
@pytest.mark.parametrize("written", WRITTEN)
def test_every_pair_of_colours_reaches_the_contrast_of_4_5(look: str, ground: str, written: str) -> None:
    """WCAG 2.2, success criterion 1.4.3."""
    colours = palettes()[look]
    assert contrast(colours[written], colours[ground]) >= 4.5


def test_no_colour_stands_outside_the_looks() -> None:
    import re
    from importlib.resources import files

    for path in files("coach.screen").iterdir():
        if path.name.endswith((".py", ".tcss")):
            assert not re.search(r"#[0-9a-fA-F]{6}\b", path.read_text(encoding="utf-8")), path.name


@pytest.mark.parametrize("size", SIZES)
def test_figures_keep_their_width_whatever_they_say(size: int) -> None:
    widths = {len(line) for value in (None, 0.0, 7.0, 57.0, 208.0) for line in large(figures(value), size).split("\n")}
    assert len(widths) == 1


def test_an_unknown_number_is_two_dashes_and_never_zero() -> None:
    assert figures(None).strip() == "--"
    assert figures(0.0).strip() == "0"


@pytest.mark.parametrize(
    ("gauge", "word"),
    [
        (Gauge(57.0, "mph", 50.0, 60.0), "inside"),
        (Gauge(62.0, "mph", 50.0, 60.0), "2 mph over"),
        (Gauge(38.0, "mph", 50.0, 60.0), "12 mph under"),
        (Gauge(None, "mph", 50.0, 60.0), "no value now"),
        (Gauge(40.0, "°C", 70.0, None), "30 °C to go"),
        (Gauge(75.0, "°C", 70.0, None), "reached"),
        (Gauge(0.0, "mph", 0.0, 0.0), "standing"),
        (Gauge(49.0, "mph", 50.0, 60.0, 47.0, 63.0, True), "1 mph under, still counts"),
        (Gauge(62.0, "mph", 50.0, 60.0, 47.0, 63.0, True), "2 mph over, still counts"),
        (Gauge(49.0, "mph", 50.0, 60.0, 47.0, 63.0, False), "1 mph under"),
        (Gauge(55.0, "mph", 50.0, 60.0, 47.0, 63.0, True), "inside"),
    ],
)
def test_the_state_of_the_number_is_a_word(gauge: Gauge, word: str) -> None:
    assert where(gauge) == word


def test_the_ruler_stands_still_while_the_pointer_moves() -> None:
    slow, fast = (ruler(Gauge(v, "mph", 50.0, 60.0), 48).plain.split("\n") for v in (52.0, 58.0))
    assert slow[1:] == fast[1:]
    assert slow[0].index("▼") < fast[0].index("▼")
    assert slow[1][slow[0].index("▼")] == "━"


def test_the_limits_a_hold_bears_stand_lightly_beside_the_band_and_are_no_band() -> None:
    rail = ruler(Gauge(48.0, "mph", 50.0, 60.0, 47.0, 63.0, True), 51).plain.split("\n")[1]
    assert (rail.index("─"), rail.index("━"), rail.rindex("━"), rail.rindex("─")) == (17, 20, 30, 33)
    assert "─" not in ruler(Gauge(48.0, "mph", 50.0, 60.0), 51).plain


def test_a_pointer_beyond_the_ruler_points_outward() -> None:
    assert "▶" in ruler(Gauge(140.0, "mph", 50.0, 60.0), 48).plain
    assert "◀" in ruler(Gauge(0.0, "mph", 50.0, 60.0), 48).plain


def test_the_bar_is_never_full_before_the_end() -> None:
    assert "╌" in bar(0.999, 40).plain
    assert "╌" not in bar(1.0, 40).plain


def test_a_gap_in_the_speed_stays_a_gap_in_the_strip() -> None:
    trail = (*((float(t), 55.0) for t in range(100)), *((float(t), 55.0) for t in range(200, 301)))
    lines = strip(trail, 300.0, 300.0, 50.0, 60.0, 65, 8).plain.split("\n")
    drawn = [any(line[at] in "▁─▔" for line in lines) for at in range(5, 65)]
    assert drawn[:18] == [True] * 18
    assert not any(drawn[22:38])
    assert all(drawn[42:])


def test_the_strip_tells_its_scale_with_a_band_and_without() -> None:
    trail = tuple((float(t), 55.0) for t in range(300))
    for low, high, told in ((50.0, 60.0, ["60", "50"]), (None, None, ["55", "0"])):
        lines = strip(trail, 300.0, 300.0, low, high, 65, 12).plain.split("\n")
        assert [line[:4].strip() for line in lines if line[:4].strip()] == told


# ---------------------------------------------------------------- what was said


def said(cue: str, level: str = "notice") -> Said:
    return Said(0.0, level, cue, cue)  # type: ignore[arg-type]


def all_bindings() -> list[tuple[str, Binding]]:
    screens = (DriveScreen, ReviewScreen, StartScreen, JobScreen, ReadScreen, Ways, CoachApp)
    back, without = list(CoachScreen.BINDINGS), (CoachApp, Ways)
    own = {screen: [*vars(screen).get("BINDINGS", ()), *(() if screen in without else back)] for screen in screens}
    return [(screen.__name__, binding) for screen, found in own.items() for binding in found]  # type: ignore[misc]


@pytest.mark.parametrize(("screen", "binding"), all_bindings())
def test_every_key_has_an_id_a_label_of_one_word_and_a_sentence(screen: str, binding: Binding) -> None:
    assert binding.id
    assert " " not in binding.description
    assert binding.tooltip.endswith(".")


def test_no_screen_gives_two_keys_one_name_or_one_key_two_meanings() -> None:
    by_screen: dict[str, list[Binding]] = {}
    for screen, binding in all_bindings():
        by_screen.setdefault(screen, []).append(binding)
    anywhere = by_screen.pop("CoachApp")
    for bindings in by_screen.values():
        for names in ([b.id for b in (*bindings, *anywhere)], [b.key for b in (*bindings, *anywhere)]):
            assert len(set(names)) == len(names)


def test_no_two_cues_share_a_priority() -> None:
    assert sorted(PRIORITY.values()) == list(range(len(CUES)))


def test_a_line_stands_for_its_least_time() -> None:
    board = Board()
    board.put([said("MonitorChanged")], 0.0)
    assert board.shown(0.0) is not None
    board.put([said("PhaseDriven")], 1.0)
    assert board.shown(1.0).cue == "MonitorChanged"  # type: ignore[union-attr]
    assert board.shown(LEAST_SHOWN_S["notice"]).cue == "PhaseDriven"  # type: ignore[union-attr]


def test_the_weightier_line_does_not_wait() -> None:
    board = Board()
    board.put([said("PlanChanged", "steady")], 0.0)
    board.shown(0.0)
    board.put([said("HoldPaused"), said("CoachingEnded", "stop")], 0.5)
    assert board.shown(0.5).cue == "CoachingEnded"  # type: ignore[union-attr]


def test_what_is_held_is_told_in_whole_pieces() -> None:
    """The long hot cruise of the diesel profile has five parts; on 60 columns its bar has 40."""
    words = "held 2:13 of 60:00, 0:00 of 2:00 steady, 0:00 of 5:00 exhaust temperature"
    assert fitting(words, 40) == "held 2:13 of 60:00, 0:00 of 2:00 steady"
    assert fitting(words, 38) == "held 2:13 of 60:00"
    assert fitting(words, 10) == "held 2:13 of 60:00"
    assert fitting(words, 80) == words


def test_what_is_not_so_any_more_does_not_stand_out_its_time() -> None:
    board = Board()
    board.put([said("LinkChanged")], 0.0)
    assert board.shown(0.0) is not None
    board.put([said("LinkChanged"), said("DataReturned", "steady")], 1.0)
    assert board.shown(1.0).cue == "DataReturned"  # type: ignore[union-attr]
    board.put([said("HoldPaused")], 20.0)
    board.put([said("HoldResumed", "steady")], 20.5)
    assert board.shown(20.5).cue == "HoldResumed"  # type: ignore[union-attr]
    assert TAKES_BACK.keys() | {cue for cues in TAKES_BACK.values() for cue in cues} <= PRIORITY.keys()


def test_a_line_goes_by_itself_and_an_old_one_is_no_news() -> None:
    board = Board()
    board.put([said("CoachingEnded", "stop")], 0.0)
    board.shown(0.0)
    board.put([said("PlanChanged", "steady")], 0.1)
    assert board.shown(WAITS_S + 0.2).cue == "CoachingEnded"  # type: ignore[union-attr]
    assert board.shown(LEAST_SHOWN_S["stop"] * LONGEST_TIMES + 0.1) is None
