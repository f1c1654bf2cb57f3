"""One row at one size in a process of its own, told to the runner as JSON on standard output.

python -m tests.bench._measuring ROW SIZE SHEDS SCRATCH PASSES
"""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from pathlib import Path

from tests.bench._place import NotMeasured, Place
from tests.bench._process import Failed
from tests.bench._rows import BY_KEY

PREPARE = "prepare"  # in the place of a row: the copy of the logs and its index


def main(key: str, size: str, sheds: str, scratch: str, passes: str) -> None:
    """Measures and prints."""
    place = Place(sheds=Path(sheds), scratch=Path(scratch), name=size, passes=int(passes))
    try:
        if key == PREPARE:
            place.indexed()
            print(json.dumps({"why": ""}))
            return
        print(json.dumps(asdict(BY_KEY[key].measure(place))))
    except NotMeasured as why:
        print(json.dumps({"why": str(why)}))
    except Failed as why:
        print(json.dumps({"why": f"not measured: {why}"}))


if __name__ == "__main__":
    main(*sys.argv[1:])
