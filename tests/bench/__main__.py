"""Run the bench: every module of this folder with a `rows()` function, and print its figures."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

from tests.bench.row import Row

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
ROOMS = ("start", "store", "edit", "page", "hand", "insight", "sound", "sources", "kit")


def measure(prefix: str) -> Iterator[Row]:
    for path in sorted(Path(__file__).parent.glob("*_bench.py")):
        room = path.stem.removesuffix("_bench")
        if room.startswith(prefix.split(".", maxsplit=1)[0]) or not prefix:
            module = import_module(f"tests.bench.{path.stem}")
            yield from (row for row in module.rows() if row.name.startswith(prefix))


def table(row: Row) -> str:
    goal = "" if row.goal is None else f"{'<=' if row.at_most else '>='} {row.goal:g}"
    peer = "" if row.peer_figure is None else f"{row.peer}: {row.peer_figure:.4g}"
    verdict = {True: "ok", False: "MISSED", None: ""}[row.ok]
    return (
        f"{row.name:32} {row.size:22} {row.figure:12.4g} {row.unit:10} {goal:10} {verdict:7} {peer}"
    )


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--only", metavar="PREFIX", default="", help="rows whose name starts so")
    parser.add_argument("--json", action="store_true", help="one versioned JSON document")
    options = parser.parse_args()
    rows = []
    for row in measure(options.only):
        rows.append(row)
        if not options.json:
            print(table(row), flush=True)
    if options.json:
        document = {"format": "footstool.bench/1", "rows": [row.as_dict() for row in rows]}
        json.dump(document, sys.stdout, indent=1)
        print()
    return 0 if rows else 2


if __name__ == "__main__":
    sys.exit(main())
