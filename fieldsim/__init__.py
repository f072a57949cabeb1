"""fieldsim: test a robot's run plan without the table.

>>> import fieldsim
>>> run = fieldsim.load_run("runs/bakery/flour-round.yaml")
>>> trials = fieldsim.simulate(run, trials=2000, seed=1)
>>> 0.5 < trials.share.share < 1.0
True
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__version__ = "0.2.0"

if TYPE_CHECKING:
    from dataclasses import replace

    from fieldsim.files import load_field, load_robot, load_run
    from fieldsim.model.errors import FieldsimError, FileError
    from fieldsim.sim.trials import Trials, simulate

__all__ = [
    "FieldsimError",
    "FileError",
    "Trials",
    "__version__",
    "load_field",
    "load_robot",
    "load_run",
    "replace",
    "simulate",
]

# Where each name lives: loaded on first use, since `fieldsim --help` must not wait for numpy and the compiled kernel.
_HOME = {
    "FieldsimError": "fieldsim.model.errors",
    "FileError": "fieldsim.model.errors",
    "Trials": "fieldsim.sim.trials",
    "load_field": "fieldsim.files",
    "load_robot": "fieldsim.files",
    "load_run": "fieldsim.files",
    "replace": "dataclasses",
    "simulate": "fieldsim.sim.trials",
}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"fieldsim has no {name!r}")
    from importlib import import_module

    return getattr(import_module(_HOME[name]), name)
