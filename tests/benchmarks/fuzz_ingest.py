"""Reads many damaged logs and counts how that ends. No part of the test command.

    python -m tests.benchmarks.fuzz_ingest --files 20000 --seed 1

Small logs of every kind (tests/ingest/fuzz_seeds.py) are damaged: bits turned, cut short, spliced, stretches repeated,
counts and lengths made huge, texts put in. A log may be read, read with rows set aside, or refused (BadLog); anything
else is a fault: a traceback, longer than --limit-s, more memory than --memory-mb, the end of the process. Files with a
fault are kept in tests/ingest/once_failed, where a test reads them from then on. File number i is the same in every
run with one seed, so --first repeats a single one.
"""

from __future__ import annotations

import argparse
import hashlib
import multiprocessing
import random
import resource
import signal
import tempfile
import time
import traceback
import warnings
from collections import Counter
from multiprocessing.connection import Connection
from pathlib import Path

from tests.ingest.fuzz_seeds import SEEDS, outcome_of

KEPT = Path(__file__).parents[1] / "ingest" / "once_failed"
MOST_KEPT = 20
_FAULTS = ("traceback", "hang", "memory", "died")
_HUGE = (
    b"\xff\xff\xff\xff",
    b"\xff\xff\xff\x7f",
    b"\x00\x00\x00\x80",
    b"\x00\x00\x00\x00",
    b"\xff" * 8,
    b"\x80\xff\xff\xff\x0f",
)
_TEXTS = (
    b'"',
    b";",
    b",",
    b"\n",
    b"\r",
    b"\0\0\0\0",
    b"1e999",
    b"-",
    b"\xef\xbb\xbf",
    b"2026-99-99",
    b"9" * 400,
    b"\xe9",
    b"nan",
)


class Hang(BaseException):
    """Reading took too long."""


def damage(data: bytes, chance: random.Random, others: list[bytes]) -> bytes:
    """One to eight random damages."""
    for _ in range(chance.choice([1, 1, 2, 3, 8])):
        if not data:
            return data
        at = chance.randrange(len(data))
        # Heads and ends hold the lengths and counts: they are hit as often as all the rest.
        at = chance.choice([at, at, min(at, chance.randrange(64)), len(data) - 1 - min(at, chance.randrange(200))])
        at = max(0, min(at, len(data) - 1))
        match chance.randrange(9):
            case 0 | 1:
                bit = 1 << chance.randrange(8)
                data = data[:at] + bytes([data[at] ^ bit]) + data[at + 1 :]
            case 2:
                data = data[:at] + chance.randbytes(chance.choice([1, 2, 8, 40])) + data[at + chance.randrange(9) :]
            case 3:
                data = data[:at]
            case 4:
                other = chance.choice(others)
                start = chance.randrange(len(other))
                data = data[:at] + other[start : start + chance.choice([10, 100, 2000])] + data[at:]
            case 5:
                block = data[at : at + chance.choice([1, 7, 60, 900])]
                data = data[:at] + block * chance.choice([2, 5, 50]) + data[at + len(block) :]
            case 6:
                huge = chance.choice(_HUGE)
                data = data[:at] + huge + data[at + len(huge) :]
            case 7:
                data = data[:at] + chance.choice(_TEXTS) + data[at:]
            case 8:
                data = data[:at] + data[at + chance.choice([1, 3, 50, 700]) :]
    return data


def damaged_file(seed: int, number: int) -> tuple[str, bytes]:
    """Name of the seed log and the bytes of file `number`."""
    chance = random.Random(f"{seed} {number}")
    names = sorted(SEEDS)
    name = names[number % len(names)]
    return name, damage(_MADE[name], chance, list(_MADE.values()))


_MADE = {name: make() for name, (make, _, _) in SEEDS.items()}


def work(pipe: Connection, seed: int, numbers: range, limit_s: float, memory_mb: int) -> None:
    """Reads files and sends (number, outcome, what was raised) for each. Runs in a process of its own."""
    warnings.simplefilter("ignore")
    resource.setrlimit(resource.RLIMIT_AS, (memory_mb << 20, memory_mb << 20))

    def too_long(*_: object) -> None:
        raise Hang

    signal.signal(signal.SIGALRM, too_long)
    with tempfile.TemporaryDirectory() as folder:
        for number in numbers:
            name, data = damaged_file(seed, number)
            path = Path(folder) / f"log{SEEDS[name][1]}"
            path.write_bytes(data)
            told = ""
            signal.setitimer(signal.ITIMER_REAL, limit_s)
            try:
                outcome = outcome_of(path, SEEDS[name][2])
            except Hang:
                outcome, told = "hang", traceback.format_exc(limit=-4)
            except MemoryError:
                outcome, told = "memory", traceback.format_exc(limit=-4)
            except Exception:
                outcome, told = "traceback", traceback.format_exc(limit=-4)
            finally:
                signal.setitimer(signal.ITIMER_REAL, 0)
            pipe.send((number, outcome, told))
    pipe.close()


def main() -> None:
    """Read, count, keep what failed."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--files", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--limit-s", type=float, default=10.0)
    parser.add_argument("--memory-mb", type=int, default=3000)
    parser.add_argument("--minutes", type=float, default=1e6, help="stop after so long")
    given = parser.parse_args()
    counts: Counter[tuple[str, str]] = Counter()
    places: Counter[str] = Counter()
    kept = 0
    number, end, started = given.first, given.first + given.files, time.monotonic()
    context = multiprocessing.get_context("spawn")
    while number < end and time.monotonic() - started < 60 * given.minutes:
        receiver, sender = context.Pipe(duplex=False)
        numbers = range(number, min(end, number + 2000))
        worker = context.Process(target=work, args=(sender, given.seed, numbers, given.limit_s, given.memory_mb))
        worker.start()
        sender.close()
        while number in numbers and time.monotonic() - started < 60 * given.minutes:
            try:
                # A reader stuck in foreign code does not see the alarm.
                answer = receiver.recv() if receiver.poll(3 * given.limit_s + 30) else (number, "hang", "no answer")
            except EOFError:
                answer = (number, "died", "the process ended")
            number, outcome, told = answer
            name, data = damaged_file(given.seed, number)
            counts[name, outcome] += 1
            if outcome in _FAULTS:
                place = (told.strip().splitlines() or [""])[-1][:150]
                if places[f"{outcome}: {place}"] == 0 and kept < MOST_KEPT:
                    KEPT.mkdir(exist_ok=True)
                    mark = hashlib.sha256(data).hexdigest()[:8]
                    (KEPT / f"{name}-{outcome}-{mark}{SEEDS[name][1]}").write_bytes(data)
                    kept += 1
                    print(f"file {number} ({name}): {outcome}\n{told}", flush=True)
                places[f"{outcome}: {place}"] += 1
            number += 1
            if told in ("no answer", "the process ended"):
                break
        worker.kill()
        worker.join()
    outcomes = ["clean", "set aside", "BadLog", *_FAULTS]
    print(f"{sum(counts.values()):,} files in {time.monotonic() - started:.0f} s, seed {given.seed}")
    print(f"{'':10}" + "".join(f"{one:>11}" for one in outcomes))
    for name in sorted(SEEDS):
        print(f"{name:10}" + "".join(f"{counts[name, one]:11,}" for one in outcomes))
    print(f"{'all':10}" + "".join(f"{sum(counts[name, one] for name in SEEDS):11,}" for one in outcomes))
    for place, count in places.most_common(30):
        print(f"{count:6} {place}")


if __name__ == "__main__":
    main()
