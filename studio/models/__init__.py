"""What the studio owns: people, shelf, bench, ledger, pictures."""

from .bench import Measure, MeasureWeighing, Tool, Vessel
from .dye import LEAST_PART, Assistant, Dye, DyeClass, Solution, SolutionPart
from .fields import Kept, KeptForever
from .ledger import Count, Movement
from .lots import Content, Delivery, Lot, LotCorrection, ShareOut, Weighing
from .once import Taken
from .people import LastOwner, Market, Paper, Person, Role, Spoons, Studio, System
from .phones import Phone
from .pictures import Document, Picture, Sound
from .yarn import Base, BaseFibre

__all__ = [
    "LEAST_PART",
    "Assistant",
    "Base",
    "BaseFibre",
    "Content",
    "Count",
    "Delivery",
    "Document",
    "Dye",
    "DyeClass",
    "Kept",
    "KeptForever",
    "LastOwner",
    "Lot",
    "LotCorrection",
    "Market",
    "Measure",
    "MeasureWeighing",
    "Movement",
    "Paper",
    "Person",
    "Phone",
    "Picture",
    "Role",
    "ShareOut",
    "Solution",
    "SolutionPart",
    "Sound",
    "Spoons",
    "Studio",
    "System",
    "Taken",
    "Tool",
    "Vessel",
    "Weighing",
]
