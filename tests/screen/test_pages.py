"""Kept pages: they show that a page or a look changed, never that a rule is right.

They stand in tests/screen/pages. COACH_KEEP_PAGES=1 writes them anew; each is then looked at before it is kept.
"""

import os
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path

import pytest
from textual.strip import Strip

from coach.screen.app import CoachApp
from coach.screen.look import palettes
from tests.screen.album import SCENES, shown
from tests.screen.cars import text_of
from tests.screen.contrast import contrast

PAGES = Path(__file__).parent / "pages"
SMALL, USUAL, LARGE, HUGE = (60, 20), (80, 24), (120, 40), (200, 60)
KEPT: dict[str, tuple[tuple[int, int], ...]] = {
    "start": (USUAL,),
    "start-empty": (SMALL,),
    "job": (USUAL,),
    "before": (USUAL,),
    "idle": (USUAL,),
    "cruise": (HUGE, LARGE, USUAL, SMALL),
    "broken": (USUAL,),
    "still-counts": (USUAL,),
    "link-lost": (USUAL,),
    "alone": (USUAL,),
    "stop": (SMALL,),
    "may-stop": (USUAL,),
    "let-go": (USUAL,),
    "codes": (USUAL, SMALL),
    "codes-stand": (USUAL,),
    "before-clean": (USUAL,),
    "clean-cycle": (USUAL,),
    "clean-driven": (USUAL, SMALL),
    "until-tomorrow": (USUAL,),
    "fuel": (USUAL,),
    "ended": (USUAL,),
    "help": (USUAL,),
    "check": (LARGE,),
    "plots": (LARGE,),
}
"""Scene to the sizes it is kept in; the first is opened, the others are resized to."""
LOOKED_AT = ("cruise", USUAL)
"""The page whose looks are kept, in dark, in light and without colour."""


def compare(name: str, page: str) -> None:
    kept = PAGES / f"{name}.txt"
    if os.environ.get("COACH_KEEP_PAGES"):
        PAGES.mkdir(exist_ok=True)
        kept.write_text(page, encoding="utf-8")
    assert page == kept.read_text(encoding="utf-8")


@pytest.mark.asyncio
@pytest.mark.parametrize("name", KEPT)
async def test_the_page_is_as_it_was_looked_at(name: str, tmp_path: Path, recorded: Path) -> None:
    first, *others = KEPT[name]
    async with shown(name, tmp_path, recorded, first) as (app, pilot):
        compare(f"{name}-{first[0]}x{first[1]}", text_of(app) + "\n")
        for size in others:
            await pilot.resize_terminal(*size)
            compare(f"{name}-{size[0]}x{size[1]}", text_of(app) + "\n")
        assert not list(faint(app))


def faint(app: CoachApp) -> Iterator[str]:
    """Words that do not reach a contrast of 4.5 on what they stand on, in either look: WCAG 2.2, criterion 1.4.3."""
    names = {colour: name for name, colour in palettes()[app.theme].items()}
    pairs = {style.removesuffix(" bold"): words for style, words in _all_runs(app, names) if words.strip()}
    for colours in palettes().values():
        for pair, words in pairs.items():
            ink, paper = (colours.get(part, part) for part in pair.split(" on "))
            if contrast(ink, paper) < 4.5:
                yield f"{pair}: {words}"


def _all_runs(app: CoachApp, names: dict[str, str]) -> Iterator[tuple[str, str]]:
    for strip in app.screen._compositor.render_strips():
        yield from _runs(strip, names)


@pytest.mark.asyncio
@pytest.mark.parametrize("look", ["dark", "light", "none"])
async def test_the_look_is_as_it_was_looked_at(
    look: str, tmp_path: Path, recorded: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if look == "none":
        monkeypatch.setenv("NO_COLOR", "1")
    scene, size = LOOKED_AT
    async with shown(scene, tmp_path, recorded, size, "light" if look == "light" else "dark") as (app, _):
        compare(f"look-{look}", "\n".join(styled(app)) + "\n")


def styled(app: CoachApp) -> Iterator[str]:
    """The screen in runs of one style: what is written on what, by the names of the look, and the words."""
    names = {colour: name for name, colour in palettes()[app.theme].items()}
    yield ", ".join(f"{name} {colour}" for colour, name in names.items())
    for number, strip in enumerate(app.screen._compositor.render_strips()[: app.size.height], start=1):
        for style, run in groupby(_runs(strip, names), key=lambda found: found[0]):
            words = "".join(text for _, text in run)
            if words.strip():
                yield f"{number:2} {style:<24} {words.strip()}"


def _runs(strip: Strip, names: dict[str, str]) -> Iterator[tuple[str, str]]:
    for segment in strip:
        style = segment.style
        if style is None or style.color is None or style.bgcolor is None:
            assert not segment.text.strip(), f"no colour of ours: {segment.text!r}"
            continue
        ink, paper = (colour.get_truecolor().hex for colour in (style.color, style.bgcolor))
        yield f"{names.get(ink, ink)} on {names.get(paper, paper)}{' bold' if style.bold else ''}", segment.text


def test_every_kept_page_belongs_to_a_scene() -> None:
    wanted = {f"{name}-{w}x{h}" for name, sizes in KEPT.items() for w, h in sizes}
    assert {path.stem for path in PAGES.iterdir()} == wanted | {"look-dark", "look-light", "look-none"}
    assert set(KEPT) <= set(SCENES)
