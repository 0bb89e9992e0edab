"""A lock on a folder between programs: the system lets it go by itself when a program ends, however it ends."""

import sys
import time
from pathlib import Path
from types import TracebackType
from typing import IO

from coach.jobs.errors import CannotKeep, JobBusy
from coach.ordinary import is_there

WAIT_S = 5.0  # our judgement: nothing is done under the lock that takes longer than writing a small file
AGAIN_S = 0.02


class Locked:
    """Context manager: alone with the folder. JobBusy when another program holds it for too long."""

    def __init__(self, folder: Path, wait_s: float = WAIT_S) -> None:
        self._path = folder / ".lock"
        self._wait_s = wait_s
        self._file: IO[bytes] | None = None

    def __enter__(self) -> "Locked":
        if is_there(self._path) and not self._path.is_file():  # opening a pipe would wait for ever
            raise CannotKeep(f"{self._path}: no ordinary file; remove it")
        try:
            self._file = self._path.open("ab")
        except OSError as error:
            raise CannotKeep(f"{self._path.parent}: cannot be written: {error.strerror}") from None
        ends = time.monotonic() + self._wait_s
        while not _taken(self._file):
            if time.monotonic() >= ends:
                self._file.close()
                raise JobBusy(f"{self._path.parent}: another program is writing here; try again when it is done")
            time.sleep(AGAIN_S)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._file is not None:
            _let_go(self._file)
            self._file.close()


if sys.platform == "win32":
    import msvcrt

    def _taken(file: IO[bytes]) -> bool:
        try:
            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

    def _let_go(file: IO[bytes]) -> None:
        file.seek(0)
        msvcrt.locking(file.fileno(), msvcrt.LK_UNLCK, 1)

else:
    import fcntl

    def _taken(file: IO[bytes]) -> bool:
        try:
            fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True

    def _let_go(file: IO[bytes]) -> None:
        fcntl.flock(file.fileno(), fcntl.LOCK_UN)
