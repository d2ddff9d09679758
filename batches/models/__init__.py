"""The journal: runs and batches, their log, what came out, what it cost, what was printed."""

from .cost import CostLine, CostShare, CostSheet
from .log import (
    Addition,
    AdditionLot,
    Check,
    Entry,
    Move,
    PhotoTaken,
    Reading,
    Stamp,
    StepDone,
    Strike,
    TimeFrom,
    Work,
)
from .outcome import Finish, Output, Verdict, tally
from .printed import TagDye, TagPrint
from .run import Batch, BatchYarn, Bath, PlanLine, Run, State, Whereabouts, promised_by_lot

__all__ = [
    "Addition",
    "AdditionLot",
    "Bath",
    "Batch",
    "BatchYarn",
    "Check",
    "CostLine",
    "CostShare",
    "CostSheet",
    "Entry",
    "Finish",
    "Move",
    "Output",
    "PhotoTaken",
    "PlanLine",
    "Reading",
    "Run",
    "Stamp",
    "State",
    "StepDone",
    "Strike",
    "TagDye",
    "TagPrint",
    "TimeFrom",
    "Verdict",
    "Whereabouts",
    "Work",
    "promised_by_lot",
    "tally",
]
