"""The shelf from a spreadsheet: pasted rows are understood one by one, looked at, and kept together."""

from .bottles import Bottles
from .counts import Counts
from .lots import Lots
from .notes import Recipes
from .rows import judge
from .things import Bases, Dyes

KINDS = {kind.slug: kind for kind in (Bases, Dyes, Lots, Bottles, Counts, Recipes)}

__all__ = ["KINDS", "judge"]
