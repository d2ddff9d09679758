"""The log of a run as it is read: by days, and what was done alike in several pots said once."""

from dataclasses import dataclass, field

from django.utils import timezone

from .models import Entry
from .under_way import kind_of, pots_in_words
from .wording import minutes, together_words


@dataclass
class Said:
    """A line of the log with the pots it is of. `batches`: each once, by number."""

    line: object
    batches: list = field(default_factory=list)
    entries: list = field(default_factory=list)
    of: int = 1  # how many pots the run has

    @property
    def what(self):
        """What happened; minutes of hands that were split over pots are said together."""
        if self.line.entry.kind == Entry.Kind.WORK and len(self.entries) > 1:
            return f"Work, {minutes(sum(entry.work.minutes for entry in self.entries))}"
        return self.line.what

    @property
    def pots(self):
        """ "all 6 pots", "pots 1 and 3", or the one pot's name; "" where the run has only one."""
        if self.of == 1:
            return ""
        if len(self.batches) == 1:
            return self.batches[0].pot_name
        if len(self.batches) < self.of:
            return pots_in_words(self.batches)
        return together_words(self.of, kind_of(self.batches))

    @property
    def late(self):
        return self.line.entry.after_finish


@dataclass
class Day:
    day: object
    said: list = field(default_factory=list)


def said_of(lines, batches):
    """[Said] in order: lines that read alike in several pots, within one minute, are one."""
    by_key, found, at = {batch.pk: batch for batch in batches}, [], {}
    for line in lines:
        key = what_it_reads(line)
        if key not in at or line.entry.batch_id in {entry.batch_id for entry in at[key].entries}:
            at[key] = Said(line, of=len(batches))
            found.append(at[key])
        at[key].entries.append(line.entry)
        at[key].batches.append(by_key[line.entry.batch_id])
    for said in found:
        said.batches.sort(key=lambda batch: batch.number)
    return found


def what_it_reads(line):
    entry = line.entry
    minute = timezone.localtime(entry.at).strftime("%Y%m%d%H%M")
    photo = line.picture.pk if line.picture else None
    struck = (line.struck.by_id, line.struck.strike.reason) if line.struck else None
    return minute, entry.kind, entry.after_finish, line.what, line.sub, photo, line.page, struck


def days_of(said):
    """[Day] of these, in order, each with its lines."""
    found = []
    for one in said:
        day = timezone.localtime(one.line.entry.at).date()
        if not found or found[-1].day != day:
            found.append(Day(day))
        found[-1].said.append(one)
    return found
