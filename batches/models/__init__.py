"""The journal: runs and batches, their log, what came out, what it cost, what was printed."""

from .additions import Addition, AdditionLot
from .baths import Bath
from .cost import CostLine, CostShare, CostSheet
from .details import Check, Move, Reading, StepDone, Work
from .index import Index, IndexCard, IndexPart, IndexWord, IndexYear, Stale
from .kept_from import Captured, NotePut
from .log import Entry, Stamp, Strike, TimeFrom
from .outcome import Finish, Output, Verdict, tally
from .photos import PhotoTaken
from .plan import PlanLine, Weighed, promised_by_lot
from .printed import TagDye, TagPrint
from .run import WAITS, Batch, BatchYarn, Run, State, Whereabouts
from .series import Match, Rung, StrengthTest
from .spoken import Answer, SkeinDone, Talk
from .timers import Timer, TimerEnded

__all__ = [
    "TimerEnded",
    "Timer",
    "Talk",
    "SkeinDone",
    "Answer",
    "Addition",
    "AdditionLot",
    "Bath",
    "Batch",
    "BatchYarn",
    "Check",
    "Captured",
    "CostLine",
    "CostShare",
    "CostSheet",
    "Entry",
    "Finish",
    "Index",
    "IndexCard",
    "IndexPart",
    "IndexWord",
    "IndexYear",
    "Match",
    "Move",
    "NotePut",
    "Output",
    "PhotoTaken",
    "PlanLine",
    "Reading",
    "Run",
    "Rung",
    "Stale",
    "Stamp",
    "State",
    "StepDone",
    "StrengthTest",
    "Strike",
    "TagDye",
    "TagPrint",
    "TimeFrom",
    "Verdict",
    "WAITS",
    "Weighed",
    "Whereabouts",
    "Work",
    "promised_by_lot",
    "tally",
]
