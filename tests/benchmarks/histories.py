"""Many invented histories against the truth: `python -m tests.benchmarks.histories [count] [seed]`.

Prints what was generated, every kind of falsehood with the shortest bytes that show it, exceptions, and how often the
program was mute. Exits 1 when anything was wrong.
"""

import sys
import time
from concurrent.futures import ProcessPoolExecutor
from os import cpu_count

from coach.car.record import Record
from tests.truth.life import make_history
from tests.truth.runner import Table, run, run_many, seeded, smaller

PORTION = 2500
ALLOWED = 0.005


def portion(seed: int) -> Table:
    """So many histories of one seed, in a process of their own."""
    return run_many(seeded(seed, PORTION), Record)


def kinds(data: bytes) -> set[str]:
    """What is wrong with the history of these bytes."""
    history = make_history(data)
    found = run(history, Record())
    return {*found.wrong, *(f"{'clean' if history.clean else 'ended'}: {what}" for what in found.mute)}


def show(title: str, counted: dict[str, int], of: int) -> None:
    """One part of the table, most frequent first."""
    print(f"\n{title}")
    for what, number in sorted(counted.items(), key=lambda one: -one[1]):
        print(f"  {what:<58} {number:>10,}  {100 * number / max(1, of):7.3f} %")


def main(count: int, seed: int) -> int:
    """Run them all; 1 when anything was wrong or the program was mute too often."""
    table, began = Table(), time.monotonic()
    portions = max(1, count // PORTION)
    with ProcessPoolExecutor(cpu_count()) as pool:
        for part in pool.map(portion, range(seed, seed + portions)):
            table.add(part)
            rate = table.count / (time.monotonic() - began)
            wrong = sum(table.wrong.values())
            print(
                f"\r{table.count:,} of {portions * PORTION:,}, {rate:,.0f}/s, {wrong} falsehoods",
                end="",
                file=sys.stderr,
            )
            sys.stderr.flush()
    print(file=sys.stderr)
    show(f"What {table.count:,} histories hold (times it happened, per hundred histories)", table.made, table.count)
    show("Falsehoods and exceptions (histories)", table.wrong, table.count)
    show(f"Mute with clean answers only (of {table.clean:,} histories)", table.mute_clean, table.clean)
    show(f"Mute after trouble that clean answers ended (of {table.ended:,})", table.mute_ended, table.ended)
    share = table.mute_ended_histories / max(1, table.ended)
    print(f"\n{table.truths:,} moments looked at, {time.monotonic() - began:.0f} s")
    print(
        f"falsehoods {sum(table.wrong.values())}, mute when clean {sum(table.mute_clean.values())},"
        f" after trouble {share:.4%}"
    )
    for what, data in table.failing.items():
        print(f"\n{what}\n  {smaller(data, lambda tried, what=what: what in kinds(tried)).hex()}")
    return int(bool(table.wrong or table.mute_clean) or share > ALLOWED)


if __name__ == "__main__":
    numbers = [int(one.replace("_", "").replace(",", "")) for one in sys.argv[1:]] + [None, None]
    sys.exit(main(numbers[0] or 1_000_000, numbers[1] or 1))
