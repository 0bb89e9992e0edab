"""Large figures drawn with blocks, our own: readable at arm's length, in three sizes."""

from functools import lru_cache

HEIGHT, WIDTH = 6, 4  # dots
SIZES = (1, 2, 4)
"""1: three lines high; 2: six; 4: twelve."""
UNKNOWN = "--"

_DOTS = {
    "0": ".##. #..# #..# #..# #..# .##.",
    "1": "..#. .##. ..#. ..#. ..#. .###",
    "2": ".##. #..# ...# ..#. .#.. ####",
    "3": "###. ...# .##. ...# ...# ###.",
    "4": "#..# #..# #..# #### ...# ...#",
    "5": "#### #... ###. ...# ...# ###.",
    "6": ".##. #... ###. #..# #..# .##.",
    "7": "#### ...# ..#. ..#. .#.. .#..",
    "8": ".##. #..# .##. #..# #..# .##.",
    "9": ".##. #..# #..# .### ...# .##.",
    "-": ".... .... .... .##. .... ....",
    " ": ".... .... .... .... .... ....",
}
_HALVES = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


@lru_cache(maxsize=256)
def large(text: str, size: int) -> str:
    """The figures as lines of blocks, `size` one of `SIZES`."""
    rows = [".".join(_DOTS[figure].split()[row] for figure in text) for row in range(HEIGHT)]
    if size == 1:
        pairs = zip(rows[::2], rows[1::2], strict=True)
        return "\n".join("".join(_HALVES[a == "#", b == "#"] for a, b in zip(*pair, strict=True)) for pair in pairs)
    wide = ["".join(("█" if dot == "#" else " ") * size for dot in row) for row in rows]
    return "\n".join(line for line in wide for _ in range(size // 2))


def figures(value: float | None) -> str:
    """A whole number in three places, so that nothing shifts; two dashes for unknown."""
    return (UNKNOWN if value is None else f"{value:.0f}")[:3].rjust(3)
