"""The looks of the screens, read from themes.toml: colours have names by what they are for, and stand only there."""

import tomllib
from importlib.resources import files

from textual.theme import Theme

ON = ("paper", "slip")
WRITTEN = ("ink", "quiet", "band", "notice", "stop")
"""What is written or drawn on each of `ON`."""


def palettes() -> dict[str, dict[str, str]]:
    """Look to colour by what it is for."""
    return tomllib.loads(files("coach.screen").joinpath("themes.toml").read_text(encoding="utf-8"))


def themes() -> list[Theme]:
    """Both looks as Textual's themes; its own widgets get colours from the same few."""
    return [_theme(name, colours) for name, colours in palettes().items()]


def _theme(name: str, colours: dict[str, str]) -> Theme:
    return Theme(
        name=name,
        primary=colours["band"],
        secondary=colours["quiet"],
        accent=colours["band"],
        warning=colours["notice"],
        error=colours["stop"],
        success=colours["band"],
        foreground=colours["ink"],
        background=colours["paper"],
        surface=colours["paper"],
        panel=colours["slip"],
        dark=name == "dark",
        text_alpha=1.0,
        variables=variables(colours),
    )


def variables(colours: dict[str, str]) -> dict[str, str]:
    """The names the stylesheet uses, and those of Textual's own widgets that would else be mixed colours."""
    return {
        **colours,
        "footer-background": colours["paper"],
        "footer-foreground": colours["quiet"],
        "footer-description-foreground": colours["quiet"],
        "footer-key-foreground": colours["ink"],
        "footer-key-background": colours["paper"],
        "footer-item-background": colours["paper"],
        "block-cursor-background": colours["slip"],
        "block-cursor-foreground": colours["ink"],
        "block-cursor-blurred-background": colours["slip"],
        "block-cursor-blurred-foreground": colours["ink"],
        "block-hover-background": colours["slip"],
        "input-cursor-background": colours["ink"],
        "input-cursor-foreground": colours["paper"],
        "input-selection-background": colours["slip"],
        "scrollbar": colours["quiet"],
        "scrollbar-background": colours["paper"],
        "scrollbar-corner-color": colours["paper"],
        "border": colours["quiet"],
        "border-blurred": colours["quiet"],
    }
