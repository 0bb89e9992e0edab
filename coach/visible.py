"""Makes visible what cannot be seen or would steer whoever shows it: a name must not rewrite the page it stands on.

Pure text to text, below everything: what a car, a file or a user says goes through it before anybody shows it.
"""

import json
import re
from typing import Any

_RANGES = (
    *("\x00-\x09", "\x0b-\x1f", "\x7f-\x9f"),  # controls; the line feed is the pages' own
    *("\u061c", "\u200e-\u200f", "\u202a-\u202e", "\u2066-\u2069"),  # they turn the direction of the text around them
    *("\u2028-\u2029",),  # line and paragraph separators
    *("\xad", "\u034f", "\u115f-\u1160", "\u17b4-\u17b5", "\u180b-\u180f", "\u200b", "\u2060-\u2065"),
    *("\u206a-\u206f", "\u3164", "\ufe00-\ufe0f", "\ufeff", "\uffa0", "\ufff0-\ufffb", "\U0001bca0-\U0001bca3"),
    *("\U0001d173-\U0001d17a", "\U000e0000-\U000e0fff"),  # of no width: default ignorable in Unicode
    *("\u0600-\u0605", "\u06dd", "\u070f", "\u0890-\u0891", "\u08e2"),  # they take in the figures behind them
    *("\U000110bd", "\U000110cd", "\U00013430-\U0001343f"),
    *("\ue000-\uf8ff", "\U000f0000-\U0010ffff"),  # of private use: they mean another thing to every reader
    *("\ud800-\udfff", "\ufdd0-\ufdef", "\ufffe-\uffff"),  # halves of a pair, and what is no character
)
_JOINED = "[\u0600-\u1fff\u2190-\U0001ffff]"  # scripts written with joiners between their letters, and joined pictures
HIDDEN = re.compile(f"[{''.join(_RANGES)}]|(?<!{_JOINED})[\u200c\u200d]|[\u200c\u200d](?!{_JOINED})")
"""Every character that is made visible. Unicode categories Cc but the line feed, Cf, Cs, Co, Zl, Zp, and default
ignorable characters of the other categories. Joiners stay where Persian, Hindi or a picture needs them."""
_BREAKS = re.compile("[\t-\r]+")


def visible(text: str) -> str:
    """The same text with each such character by its number, as [U+202E]; line feeds stay."""
    return HIDDEN.sub(_number, text)


def _number(found: re.Match[str]) -> str:
    return f"[U+{ord(found[0]):04X}]"


def in_line(text: str) -> str:
    """A line in which something from outside stands: breaks in it become a space, the rest is made visible."""
    return visible(_BREAKS.sub(" ", text))


def one_line(text: str) -> str:
    """A text from outside in one line, with single spaces."""
    return " ".join(in_line(text).split())


def one_line_all(value: Any) -> Any:
    """The same for every text and every key of tables and lists, however deep they are."""
    if isinstance(value, str):
        return one_line(value)
    if isinstance(value, dict):
        return {one_line_all(key): one_line_all(inner) for key, inner in value.items()}
    return [one_line_all(inner) for inner in value] if isinstance(value, list) else value


def json_text(document: Any) -> str:
    """A document as JSON in which such characters stand as JSON's own escapes: read back it is what it was."""
    return HIDDEN.sub(_escape, json.dumps(document, ensure_ascii=False, indent=1))


def _escape(found: re.Match[str]) -> str:
    return json.dumps(found[0])[1:-1]
