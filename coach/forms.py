"""Reads a form of ours (a profile, an inspection rule) from its text and words every mistake with the nearest key.

Text in, value out: files are opened elsewhere. Used by the core; knows none of the forms.
"""

import tomllib
from collections.abc import Callable, Sequence
from difflib import get_close_matches
from types import ModuleType
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from coach.visible import one_line_all

LARGEST = 1e9  # our judgement: no year, mile, pound, minute or count of a profile or a rule is larger
MOST_DOTS = 64  # our judgement: a key of ours has three parts; a text before an equals sign may have more dots
Form = TypeVar("Form", bound=BaseModel)


def read_form(
    text: str, form: type[Form], schema: ModuleType, place: Callable[[Sequence[Any]], Sequence[Any]] = tuple
) -> tuple[Form | None, list[str]]:
    """The form of a TOML text, or none and every mistake. `schema`: where the nearest key is looked for.

    `place`: takes what is no key out of the path of a mistake. Texts come in one line, what is hidden in them visible.
    """
    try:
        table = one_line_all(read_toml(text))
    except ValueError as error:
        return None, [str(error)]
    if _beyond_measure(table):
        return None, [f"a number in it is beyond all measure: none of ours is larger than {LARGEST:.0g}"]
    try:
        return form.model_validate(table), []
    except ValidationError as error:
        return None, [_worded(found, place(found["loc"]), schema) for found in error.errors()]


def read_toml(text: str) -> dict[str, Any]:
    """The table of a TOML text. ValueError, one line, for what is none or too deep in itself."""
    try:
        if any(line.partition("=")[0].count(".") > MOST_DOTS for line in text.splitlines()):
            raise RecursionError  # keys in keys take the reader of TOML for ever
        return tomllib.loads(text)
    except RecursionError:
        raise ValueError("tables or lists too deep in each other") from None
    except ValueError as error:  # no TOML, or a number that Python does not read
        raise ValueError(f"not TOML: {error}") from None


def _beyond_measure(value: Any) -> bool:
    """Whether a number stands somewhere that is too large, or none."""
    if isinstance(value, dict | list):
        return any(map(_beyond_measure, value.values() if isinstance(value, dict) else value))
    return isinstance(value, int | float) and not -LARGEST <= value <= LARGEST


def _worded(found: Any, place: Sequence[Any], schema: ModuleType) -> str:
    """One mistake of pydantic's in plain words."""
    key = ".".join(str(part) for part in place) or "the file"
    if found["type"] == "extra_forbidden":
        near = get_close_matches(str(place[-1]), _known_keys(schema), n=1, cutoff=0.5)
        hint = f", the nearest known key is {near[0]!r}" if near else ""
        return f"{key}: unknown key{hint}"
    if found["type"] == "missing":
        return f"{key}: missing"
    return f"{key}: {found['msg'].removeprefix('Value error, ')}"


def _known_keys(schema: ModuleType) -> list[str]:
    models = [found for found in vars(schema).values() if isinstance(found, type) and issubclass(found, BaseModel)]
    return sorted({key for model in models for key in model.model_fields})
