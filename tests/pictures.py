"""Makes pictures of the screens from the program itself. Always the same, byte for byte.

python -m tests.pictures            those of the README, into tests/pictures/
python -m tests.pictures FOLDER     every screen in every size and look, as SVG, to be looked at
"""

import asyncio
import os
import sys
import tempfile
from pathlib import Path

from tests.screen.album import SCENES, picture, shown
from tests.screen.record import record

PICTURES = Path(__file__).parent / "pictures"
README = {"drive": ("cruise", (80, 24), "dark"), "review": ("review", (120, 40), "light")}
SIZES = ((80, 24), (120, 40))
LOOKS = ("dark", "light")


async def one(name: str, recorded: Path, size: tuple[int, int], look: str) -> str:
    """One screen as SVG."""
    with tempfile.TemporaryDirectory() as folder:
        async with shown(name, Path(folder), recorded, size, look) as (app, _):
            return picture(app)


async def readme(recorded: Path) -> None:
    """The pictures of the README."""
    PICTURES.mkdir(exist_ok=True)
    for file, (name, size, look) in README.items():
        (PICTURES / f"{file}.svg").write_text(await one(name, recorded, size, look), encoding="utf-8")


async def every(recorded: Path, out: Path, names: tuple[str, ...] = ()) -> None:
    """Every screen, or those named, in two sizes and both looks; without colour too where NO_COLOR is set."""
    out.mkdir(parents=True, exist_ok=True)
    looks = ("dark",) if os.environ.get("NO_COLOR") else LOOKS
    for name in names or SCENES:
        for size in SIZES:
            for look in looks:
                drawn = await one(name, recorded, size, look)
                (out / f"{name}-{size[0]}x{size[1]}-{look}.svg").write_text(drawn, encoding="utf-8")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        drive = record(Path(made))
        asked = sys.argv[1:]
        asyncio.run(every(drive, Path(asked[0]), tuple(asked[1:])) if asked else readme(drive))
