"""Our decoding beside another table: Scapy's OBD layer, a general packet library, on every PID both know.

No package on PyPI carries an open DBC file of the standard's PIDs, so this table stands in for one. It does not share a
line with ours. Disagreements are listed, with who is right and why.
"""

import random
import warnings
from typing import Any

import pytest

from coach.j1979.dtc import decode_dtc
from coach.j1979.pids import PIDS

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from scapy.contrib.automotive.obd.obd import OBD

DISAGREE = {
    0x10: "mass air flow: Scapy takes one byte of two; we are right (python-OBD and the OBDb table, standards.md 2)",
}
BYTES_ONLY = {0x8B, 0xA6}
"""Scapy knows their length and leaves the bytes as they are; the lengths agree."""
NO_VALUE = dict.fromkeys(range(20, 28), 1)
"""Trim FF says that the sensor is not used for trim: we give none, Scapy the number."""
NAMED = {
    0x1E: {"pto_active": "pto_status"},
    0x65: {
        "pto_active": "power_take_off_status",
        "in_drive": "auto_trans_neutral_drive_status",
        "in_gear": "manual_trans_neutral_drive_status",
    },
}
SUPPORTED = {0x67: 2, 0x68: 1, 0x78: 4, 0x79: 4, 0x7C: 4}
"""PIDs that say which of their sensors are fitted, and how many of them we take."""
ROUNDED = 0.0006  # Scapy rounds to three places


def theirs(pid: int, data: bytes) -> dict[str, Any]:
    """The fields Scapy reads."""
    return dict(OBD(bytes([0x41, pid]) + data).data_records[0].payload.fields)


def samples(length: int) -> list[bytes]:
    """Bytes that reach every corner, and some at random, the same each time."""
    if length == 1:
        return [bytes([value]) for value in (*range(0, 256, 3), 127, 128, 254)]
    rng = random.Random(length)
    return [
        bytes(length),
        b"\xff" * length,
        (b"\x00\xff" * length)[:length],
        *(rng.randbytes(length) for _ in range(30)),
    ]


def expected(pid: int, data: bytes) -> list[float]:
    """What our values should be by Scapy's fields, in our order."""
    fields = theirs(pid, data)
    if pid in NAMED:
        have = dict(PIDS[pid].decode(data))
        return [float(fields[NAMED[pid][signal]]) for signal in have]
    values = [v for k, v in fields.items() if not k.startswith("reserved") and not k.endswith("_supported")]
    if pid in SUPPORTED:
        return [float(v) for i, v in enumerate(values[: SUPPORTED[pid]]) if data[0] >> i & 1]
    if pid in NO_VALUE and data[1] == 0xFF:
        return [float(values[0])]
    return [float(value) for value in values]


@pytest.mark.parametrize("pid", [pid for pid in sorted(PIDS) if pid not in DISAGREE | dict.fromkeys(BYTES_ONLY)])
def test_both_tables_read_the_same_values(pid: int) -> None:
    for data in samples(PIDS[pid].length):
        ours = [value for _, value in PIDS[pid].decode(data)]
        assert ours == pytest.approx(expected(pid, data), abs=ROUNDED), data.hex()


def test_the_listed_disagreement_is_still_there() -> None:
    """Should Scapy mend it, the list is out of date."""
    data = b"\x01\x02"
    assert theirs(0x10, data)["data"] == pytest.approx(0.01)
    assert PIDS[0x10].decode(data) == (("maf_gps", pytest.approx(2.58)),)


@pytest.mark.parametrize("pid", sorted(BYTES_ONLY))
def test_where_scapy_reads_no_value_the_lengths_agree(pid: int) -> None:
    record = theirs(pid, bytes(PIDS[pid].length))
    assert len(record["data"]) == PIDS[pid].length


def test_trouble_codes_have_the_same_letters_and_digits() -> None:
    rng = random.Random(3)
    for raw in (b"\x01\x33", b"\xc1\x00", b"\x41\x23", b"\x80\x03", *(rng.randbytes(2) for _ in range(100))):
        fields = OBD(b"\x43\x01" + raw).dtcs[0].fields
        digits = "".join(f"{fields[name]:X}" for name in ("code1", "code2", "code3", "code4"))
        assert decode_dtc(*raw) == "PCBU"[fields["location"]] + digits
