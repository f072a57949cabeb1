"""All experiments of the audit, table by table: `python -m tests.audit` from the top of the repository.

With `--short` they take a minute or two, as among the slow proofs; without, half an hour or so. Names of experiments
leave the others out: `python -m tests.audit sources shapes`.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1]))


def coverage(short: bool) -> str:
    """How often the interval of what the tests leave open holds the truth: see unknown.py, which has more of it."""
    from audit.unknown import DEMO, HEAD, as_saved, cell  # type: ignore[import-not-found]

    layouts = [(6, 1), (12, 3)] if short else [(6, 1), (12, 1), (12, 3), (36, 3)]
    return "\n".join((HEAD, *(cell(DEMO, *layout, 14.0, 20 if short else 200, as_saved) for layout in layouts)))


def _table(name: str) -> Callable[[bool], str]:
    def made(short: bool) -> str:
        from importlib import import_module

        table: Callable[[bool], str] = import_module(f"audit.{name}").table
        return table(short)

    return made


EXPERIMENTS: dict[str, Callable[[bool], str]] = {
    "coverage": coverage,
    "sources": _table("sources"),
    "honest": _table("honest"),
    "misfits": _table("misfits"),
    "truly": _table("truly"),
    "shapes": _table("shapes"),
    "policy": _table("policy"),
}


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("names", nargs="*", metavar="EXPERIMENT", help=f"of {', '.join(EXPERIMENTS)}")
    options.add_argument("--short", action="store_true")
    chosen = options.parse_args()
    unknown = set(chosen.names) - EXPERIMENTS.keys()
    if unknown:
        options.error(f"no experiment is called {', '.join(sorted(unknown))}")
    for name in chosen.names or EXPERIMENTS:
        print(f"\n{name}\n\n{EXPERIMENTS[name](chosen.short)}", flush=True)


if __name__ == "__main__":
    main()
