"""Thousands of operations on a log folder and its index, compared with fresh readings.

``python -m tests.bench.index_proof [--minutes 15] [--seed 1]``: history after history, each of sixty
operations drawn by seed (``tests.index.doing``), until the time is up. One that fails is made
shorter by leaving operations out, and told with what stands in the folder then; the exit code is 1.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path

from board.index import joining, segments, settling, standing
from tests.index.doing import World, empty_world, play

OPERATIONS = 60


def played(place: Path, seeds: Sequence[int]) -> tuple[World, Exception | None]:
    """A world in which these operations happened, and how the comparing failed, if it did."""
    world = empty_world(place)
    try:
        play(world, seeds, every=4)
    except Exception as error:
        return world, error
    finally:
        world.close()
    return world, None


def shortest(place: Path, seeds: Sequence[int], kind: type[Exception]) -> list[int]:
    """As few of the operations as fail in that way."""
    left = list(seeds)
    shorter = True
    while shorter:
        shorter = False
        for at in range(len(left) - 1, -1, -1):
            less = left[:at] + left[at + 1 :]
            if less and type(played(place, less)[1]) is kind:
                left, shorter = less, True
    return left


def drawn_sizes(dice: random.Random) -> None:
    """How long stretches and tails are, from history to history."""
    standing.AT_ONCE = dice.choice((2, 5, 12, 40))
    standing.AT_A_TIME = dice.choice((2, 5, 12))
    standing.LONGEST_TAIL = dice.choice((0, 3, 10, 30))
    standing.KEPT_OPEN = timedelta(hours=dice.choice((0, 2, 26)))
    segments._APART, segments._DAY_US = dice.choice(((1.0, 2), (1.7, 86_400_000_000)))
    settling.BAKED_AT = dice.choice((4, 20, 25_000))
    joining.ENOUGH = dice.choice((3, 20, 400_000))
    standing.HOT = timedelta(days=dice.choice((0, 3, 30)))


def main() -> int:
    """Run until the time is up; tell what was done."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=15.0)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    until = time.monotonic() + options.minutes * 60
    done: Counter[str] = Counter()
    histories = marks = grown = 0
    seed = options.seed
    with tempfile.TemporaryDirectory(prefix="index_proof_") as top:
        place = Path(top)
        while time.monotonic() < until:
            dice = random.Random(seed)
            drawn_sizes(dice)
            seeds = [dice.getrandbits(32) for _ in range(OPERATIONS)]
            world, error = played(place, seeds)
            done.update(one.split(": ")[1] for one in world.done)
            histories += 1
            marks += world.marks
            grown += world.grown
            if error is not None:
                tell(place, seed, shortest(place, seeds[: len(world.done)], type(error)))
                return 1
            seed += 1
    print(f"{histories} histories of {OPERATIONS} operations, seeds {options.seed} to {seed - 1}")
    print(f"{marks} checkpoints compared, {grown} times only new bytes of a log were read")
    print(", ".join(f"{name} {count}" for name, count in done.most_common()))
    return 0


def tell(place: Path, seed: int, seeds: Sequence[int]) -> None:
    """What fails: the operations, how, and what stands in the folder then."""
    world, error = played(place, seeds)
    print(f"seed {seed} fails; the shortest way: {list(seeds)}")
    print("\n".join(world.done))
    traceback.print_exception(error)
    for path, (data, at) in sorted(world.disk.files.items()):
        print(f"-- {path}, changed {at}\n{data.decode('utf-8', 'backslashreplace')}")
    print(f"-- the clock says {world.now}")


if __name__ == "__main__":
    sys.exit(main())
