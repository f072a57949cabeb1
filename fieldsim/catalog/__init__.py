"""The studies, one record each: what they are called, asked and answered. Faces go by these; none knows a study's name.

A study more is a module more here, with its words; it loads what it computes with only when it is asked.
"""

from __future__ import annotations

from fieldsim.catalog.attempt import TRY
from fieldsim.catalog.base import BASE
from fieldsim.catalog.causes import CAUSES
from fieldsim.catalog.compare import COMPARE
from fieldsim.catalog.fit import FIT
from fieldsim.catalog.jigs import JIGS
from fieldsim.catalog.log import LOG
from fieldsim.catalog.match import MATCH
from fieldsim.catalog.slack import SLACK
from fieldsim.catalog.study import Study
from fieldsim.catalog.widths import WIDTHS

__all__ = ["STUDIES", "Study"]

STUDIES = (TRY, JIGS, SLACK, WIDTHS, COMPARE, CAUSES, BASE, MATCH, FIT, LOG)
