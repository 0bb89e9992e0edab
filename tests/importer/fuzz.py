"""Feeds every importer with damaged and invented files. `python -m tests.importer.fuzz SECONDS` runs it for long.

Whatever comes in, an import gives arrivals in order that a journal holds and the core takes, or one line of words.
"""

import gzip
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from functools import lru_cache
from io import BytesIO
from pathlib import Path

import can
import pyarrow
import pyarrow.parquet
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from coach.drive.core import make_core
from coach.importer.columns import ImportProblem
from coach.importer.imported import open_import
from coach.importer.infer import GIVEN
from coach.journal.errors import JournalError
from coach.journal.records import decode_line, encode_arrival
from coach.words.imports import report_lines
from tests.importer.captures import Frame, candump_lines
from tests.recordings import a_profile

SLOWEST_S = 5.0
"""A file of some kilobytes that takes longer hangs."""

# ---------------------------------------------------------------- what must hold


def check(raw: bytes, protocol: str | None = None) -> str:
    """Import these bytes; what became of it in a word. Raises AssertionError where a law is broken."""
    began = time.perf_counter()
    with tempfile.NamedTemporaryFile() as file:
        file.write(raw)
        file.flush()
        try:
            word = _imported(Path(file.name), protocol)
        except (ImportProblem, JournalError) as problem:
            assert "\n" not in str(problem), problem
            word = "refused"
    assert time.perf_counter() - began < SLOWEST_S, "hangs"
    return word


def _imported(path: Path, protocol: str | None) -> str:
    found = open_import(path, protocol=protocol)
    core = make_core(a_profile(), can=found.can)
    last_t, ids = 0.0, set()
    for arrival in found.arrivals():
        assert arrival.t >= last_t, arrival
        last_t = arrival.t
        assert decode_line(encode_arrival(arrival)) == arrival
        request = getattr(arrival, "request_id", None)
        assert request is None or request in ids, arrival
        if type(arrival).__name__ == "Request":
            assert arrival.id not in ids  # type: ignore[union-attr]
            ids.add(arrival.id)  # type: ignore[union-attr]
        core.feed(arrival)
    core.finish(core.now)
    assert all("\n" not in line for line in report_lines(found.report))
    return found.kind


# ---------------------------------------------------------------- whole files

FRAMES = (
    Frame(0.0, 0x7DF, bytes.fromhex("0201000000000000")),
    Frame(0.03, 0x7E8, bytes.fromhex("064100BE3FA81300")),
    Frame(0.5, 0x18DB33F1, bytes.fromhex("0209020000000000")),
    Frame(0.6, 0x18DAF110, bytes.fromhex("1014490201575030")),
    Frame(0.61, 0x18DA10F1, bytes.fromhex("3000000000000000")),
    Frame(0.62, 0x18DAF110, bytes.fromhex("215A5A5A39395A54")),
    Frame(0.63, 0x18DAF110, bytes.fromhex("2253333932313234")),
    Frame(0.7, 0x123, b"\x01"),
    Frame(1.0, 0x7DF, bytes.fromhex("0101030000000000")[1:]),
    Frame(1.1, 0x7E8, bytes.fromhex("037F0311")),
)
WRITERS: dict[str, Callable[..., can.io.generic.MessageWriter]] = {
    "asc": can.ASCWriter,
    "trc": can.TRCWriter,
    "blf": can.BLFWriter,
}


def _capture(kind: str) -> bytes:
    if kind == "candump":
        return "\n".join(candump_lines(FRAMES)).encode()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"x.{kind}"
        writer = WRITERS[kind](path)
        for frame in FRAMES:
            wide = frame.identifier > 0x7FF
            writer.on_message_received(
                can.Message(
                    timestamp=1.7e9 + frame.t, arbitration_id=frame.identifier, is_extended_id=wide, data=frame.data
                )
            )
        writer.stop()
        return path.read_bytes()


def _parquet() -> bytes:
    out = BytesIO()
    table = pyarrow.table({"time_s": [0.0, 1.0, 2.0], "speed_kmh": [1.0, None, 3.0], "remark": ["a", "b", None]})
    pyarrow.parquet.write_table(table, out)
    return out.getvalue()


TYPED = (
    b">ATZ\nELM327 v1.5\n>0100\nSEARCHING...\n7E8 06 41 00 BE 3F A8 13\n7E9 06 41 00 98 18 00 01\n>0902\n"
    b"7E8 10 14 49 02 01 57 50 30\n7E8 21 5A 5A 5A 39 39 5A 54\n7E8 22 53 33 39 32 31 32 34\n>03\n43 01 01 33\n"
    b">0101\nBUS INIT: ...OK\n48 6B 10 41 01 00 07 E5 00 35\n>07\nNO DATA\n>"
)
LOGGED = b"".join(
    f"12:00:0{i}.{i:03d} TX: b'{request}\\r'\n12:00:0{i}.{i + 50:03d} RX: b'{reply} \\r\\r>'\n".encode()
    for i, (request, reply) in enumerate(
        [("0100", "18 DA F1 10 06 41 00 BE 3F A8 13"), ("010C", "18 DA F1 10 04 41 0C 1A F8"), ("03", "NO DATA")]
    )
)
TABLE = b"time_s;speed (km/h);rpm;coolant (\xc2\xb0C)\n0;0;800;20,5\n1;10;1500;21\n2;20;2000;22\n3;;2100;23\n"


@lru_cache
def whole_files() -> dict[str, bytes]:
    """One sound file of each kind."""
    kinds = ("candump", "asc", "trc", "blf")
    return {
        **{kind: _capture(kind) for kind in kinds},
        "parquet": _parquet(),
        "typed": TYPED,
        "logged": LOGGED,
        "table": TABLE,
        "packed": gzip.compress(_capture("candump")),
    }


# ---------------------------------------------------------------- damage

_CUT = st.tuples(st.just("cut"), st.integers(0, 4000), st.integers(0, 300))
_SET = st.tuples(st.just("set"), st.integers(0, 4000), st.integers(0, 255))
_PUT = st.tuples(st.just("put"), st.integers(0, 4000), st.binary(max_size=20))
_AGAIN = st.tuples(st.just("again"), st.integers(0, 4000), st.integers(0, 300))
_END = st.tuples(st.just("end"), st.integers(0, 4000), st.just(0))


def damaged(raw: bytes, damages: list[tuple[str, int, int | bytes]]) -> bytes:
    """The bytes with every damage done to them, in order."""
    out = bytearray(raw)
    for kind, place, what in damages:
        at = place % (len(out) + 1)
        if kind == "cut" and isinstance(what, int):
            del out[at : at + what]
        elif kind == "set" and isinstance(what, int) and at < len(out):
            out[at] = what
        elif kind == "put" and isinstance(what, bytes):
            out[at:at] = what
        elif kind == "again" and isinstance(what, int):
            out[at:at] = out[at : at + what]
        elif kind == "end":
            del out[at:]
    return bytes(out)


DAMAGES = st.lists(st.one_of(_CUT, _SET, _PUT, _AGAIN, _END), max_size=6)

# ---------------------------------------------------------------- invented files

_HEX = st.binary(min_size=1, max_size=9).map(lambda raw: raw.hex(" ").upper())
_HEADED = st.tuples(
    st.sampled_from(["7E8 ", "7E9", "18 DA F1 10 ", "18DAF118", "48 6B 10 ", "86 F1 10 ", "0: ", "1:"]), _HEX
)
_WORD = st.sampled_from(
    [
        *(
            "NO DATA",
            "STOPPED",
            "?",
            "SEARCHING...",
            "BUS INIT: ...OK",
            "BUS INIT: ",
            "...",
            "OK",
            "ERROR",
            "CAN ERROR",
        ),
        *("BUFFER FULL", "<DATA ERROR", "014", "ELM327 v1.5", "12.6V", "UNABLE TO CONNECT", ">", ""),
    ]
)
_ASKED = ["0100", "0101", "010C", "010C0D", "03", "04", "07", "0A", "0902", "0600", "0141", "01 0C 1", "22F190"]
_ASK = st.sampled_from([*_ASKED, "ATZ", "ATDPN", "ATMA", "ATSP6", "ATRV"])
_FRONT = st.sampled_from(["", "> ", ">", "TX: ", "RX: ", "12:00:01.5 ", "[0.5] ", "-> ", "<- ", "x write: b'", "# "])
_BACK = st.sampled_from(["", " ", ">", "\\r", "'", "\\r>'", "<CR>", "\r"])
_PART = st.one_of(_HEX, _HEADED.map("".join), _WORD, _ASK, st.text(max_size=12))
_LINES = st.lists(st.tuples(_FRONT, _PART, _BACK).map("".join), max_size=30).map("\n".join)
_HEADS = st.sampled_from(
    ["", "0100\n7E8 06 41 00 BE 3F A8 13\n", ">0100\n18DAF1100641\n00BE3FA813\n>", "0101\n41 01 00 07\n"]
)
LINES = st.tuples(_HEADS, _LINES).map("".join)

_ID = st.sampled_from([0x7DF, 0x7E0, 0x7E1, 0x7E8, 0x7E9, 0x18DB33F1, 0x18DA10F1, 0x18DAF110, 0x18DAF118, 0x100])
_BEGIN = st.sampled_from(["0201", "0103", "0644", "0641", "1014", "21", "22", "20", "30", "037F", "00", "FF", ""])
_DATA = st.tuples(_BEGIN.map(bytes.fromhex), st.binary(max_size=8)).map(lambda two: (two[0] + two[1])[:8])
_STEP = st.sampled_from([0.0, 0.001, 0.03, 0.9, 1.5, 6.0, -0.01, -5.0, 1e5, -1e5])
DIALOGUE = st.lists(st.tuples(_STEP, _ID, _DATA), min_size=2, max_size=40)


def log_of(frames: list[tuple[float, int, bytes]]) -> bytes:
    """A candump log of frames with steps of time between them."""
    t, made = 1e6, []
    for step, identifier, data in frames:
        t += step
        made.append(Frame(t, identifier, data))
    return "\n".join(candump_lines(made)).encode()


KINDS = st.sampled_from(sorted(whole_files()))
PROTOCOLS = st.sampled_from([None, None, None, *GIVEN])
PROPERTIES: dict[str, tuple[st.SearchStrategy[bytes], st.SearchStrategy[str | None]]] = {
    "damaged": (st.tuples(KINDS, DAMAGES).map(lambda two: damaged(whole_files()[two[0]], list(two[1]))), st.none()),
    "invented transcript": (LINES.map(str.encode), PROTOCOLS),
    "invented dialogue": (DIALOGUE.map(log_of), st.none()),
    "anything": (st.binary(max_size=400), PROTOCOLS),
}


def _attempts(name: str, counts: Counter[str]) -> Callable[[], None]:
    files, protocols = PROPERTIES[name]

    @settings(
        max_examples=400,
        deadline=None,
        database=None,
        phases=[Phase.generate, Phase.shrink],
        suppress_health_check=list(HealthCheck),
    )
    @given(files, protocols)
    def attempt(raw: bytes, protocol: str | None) -> None:
        counts[f"{name}: {check(raw, protocol)}"] += 1

    return attempt


def run(seconds: float) -> None:
    """Fuzz until the time is up, and print how many files of which kind were tried."""
    end = time.monotonic() + seconds
    counts: Counter[str] = Counter()
    while time.monotonic() < end:
        for name in PROPERTIES:
            _attempts(name, counts)()
    for word, count in sorted(counts.items()):
        print(f"{count:8}  {word}")
    print(f"{counts.total():8}  files in {seconds:.0f} s, no exception and no hang")


if __name__ == "__main__":
    run(float(sys.argv[1]) if len(sys.argv) > 1 else 60.0)
