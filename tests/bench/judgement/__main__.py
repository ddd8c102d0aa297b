"""`python -m tests.bench.judgement [--quick]`: makes the drives, listens to them and prints the scores."""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TypeVar

from . import tables
from .drives import default_folder, is_kept
from .jobs import all_jobs
from .listen import WITHOUT, Variant
from .score import Score
from .work import Task, make, work

T = TypeVar("T")

PROCESSES = 2
VARIANTS = (Variant(), *(Variant((name,)) for name in WITHOUT), Variant(loss=5.0))
"""What `--table` compares."""


def main() -> int:
    """The command."""
    options = _options()
    variants = VARIANTS if options.table else (Variant(tuple(options.without), options.loss),)
    jobs = [job for job in all_jobs(options.quick) if options.only in job.name]
    if options.made:
        jobs = [job for job in jobs if is_kept(job, options.cache, options.stale)]
    tasks = [Task(job, options.cache, variants, options.keep, options.stale) for job in jobs]
    if options.keep is not None:
        options.keep.mkdir(parents=True, exist_ok=True)
    began = time.monotonic()
    with multiprocessing.get_context("spawn").Pool(PROCESSES) as pool:
        references = [
            Task(job, options.cache, (), None, options.stale) for job in dict.fromkeys(job.reference() for job in jobs)
        ]
        for _ in _told("references", pool.imap_unordered(make, references), len(references)):
            pass
        if options.make:
            for _ in _told("drives", pool.imap_unordered(make, tasks), len(tasks)):
                pass
            return 0
        done = list(_told("drives", pool.imap(work, tasks), len(tasks)))
    kinds = {job.name: job.kind for job in jobs}
    for variant, scores in zip(variants, zip(*done, strict=True), strict=True):
        if judged := [s for s in scores if kinds[s.name] != "others"]:
            _print(str(variant), judged, variant is variants[0])
        others = [s for s in scores if kinds[s.name] == "others"]
        if others and variant is variants[0]:
            print(f"\nThe other kinds\n\n{tables.other_kinds(others)}")
        if options.list:
            print(f"\n{tables.lists(scores)}")
    print(f"\n{len(jobs)} drives in {time.monotonic() - began:.0f} s")
    return 0


def _print(title: str, scores: list[Score], at_length: bool) -> None:
    print(f"\n{title}\n\n{tables.whole(scores)}")
    if at_length:
        print(f"\n{tables.by_kind(scores)}\n\n{tables.false_by_kind(scores)}")


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.judgement", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a tenth of the drives")
    parser.add_argument("--only", default="", help="only drives with this in their name")
    parser.add_argument("--cache", type=Path, default=default_folder(), help="where drives are kept")
    parser.add_argument("--make", action="store_true", help="only make the drives")
    parser.add_argument("--made", action="store_true", help="only drives that are kept already")
    parser.add_argument("--stale", action="store_true", help="drives that an older car drove will do")
    parser.add_argument("--without", action="append", default=[], choices=WITHOUT, help="channels that are taken away")
    parser.add_argument("--loss", type=float, default=0.0, help="per cent of the datagrams that are lost")
    parser.add_argument("--table", action="store_true", help="all variants over the same drives")
    parser.add_argument("--list", action="store_true", help="every miss, false alarm and other finding")
    parser.add_argument("--keep", type=Path, help="keep streams, truths and event logs in this folder")
    return parser.parse_args()


def _told(what: str, items: Iterator[T], number: int) -> Iterator[T]:
    for i, item in enumerate(items, 1):
        print(f"\r{what}: {i}/{number}", end="", file=sys.stderr, flush=True)
        yield item
    print(file=sys.stderr)


if __name__ == "__main__":
    sys.exit(main())
