"""One pot's entries: when the yarn came out of its bath, when it was done with, and what was to put something right."""

from recipes.models import RecipeStep

from .models import Check, Entry, Whereabouts

Kind = RecipeStep.Kind
CHECKED = (Whereabouts.TO_CHECK, Whereabouts.TO_TAG, Whereabouts.STORED)
OUT_BY_STEP = (Kind.RINSE, Kind.WASH, Kind.DRY)
OUT_BY_PLACE = (Whereabouts.RINSING, Whereabouts.DRYING, *CHECKED)


class Pot:
    """One pot's entries in order, and `found`: the lines that they became so far."""

    def __init__(self, run, entries, lots, measures, scales):
        self.run, self.entries, self.lots, self.measures, self.scales = run, entries, lots, measures, scales
        self.found = []
        self.kinds_done = {one.step.kind for one in entries if one.kind == Entry.Kind.STEP}
        self.timers = {one.pk: one for one in entries if one.kind == Entry.Kind.TIMER}
        self.trouble_at = min((one.at for one in entries if _says_trouble(one)), default=None)
        self.end_at = min((one.at for one in entries if _is_the_end(one)), default=None)
        self.out_at = self._came_out()

    def _came_out(self):
        """When the yarn came out of the bath after the last dye; None where nothing says so."""
        dyed = [
            one.at
            for one in self.entries
            if one.kind == Entry.Kind.ADDITION and one.addition.lot_id and not self.is_trouble(one)
        ]
        last = max(dyed, default=None)
        outs = [one.at for one in self.entries if _is_out(one) and (last is None or one.at >= last)]
        return min(outs, default=self.end_at)

    def is_trouble(self, entry):
        because = entry.because
        if because is not None and because.kind == Entry.Kind.CHECK:
            return True
        return self.trouble_at is not None and entry.at >= self.trouble_at

    def is_over(self, entry):
        """After the pot was judged or finished what is done to the yarn is no part of dyeing it."""
        return self.end_at is not None and entry.at >= self.end_at and not self.is_trouble(entry)


def _says_trouble(entry):
    if entry.kind != Entry.Kind.CHECK:
        return False
    said = entry.check_made
    return said.what == Check.What.REMEDY or said.what != Check.What.RINSE and said.bleeds


def _is_the_end(entry):
    """Whether it was judged, or put away: what comes later is no part of dyeing it."""
    if entry.kind == Entry.Kind.CHECK:
        return entry.check_made.what not in (Check.What.RINSE, Check.What.REMEDY)
    if entry.kind == Entry.Kind.MOVE:
        return entry.move.where in CHECKED
    return entry.kind == Entry.Kind.FINISH


def _is_out(entry):
    if entry.kind == Entry.Kind.STEP:
        return entry.step.kind in OUT_BY_STEP
    return _is_the_end(entry) or entry.kind == Entry.Kind.MOVE and entry.move.where in OUT_BY_PLACE
