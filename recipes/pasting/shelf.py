"""What rows that name things of the shelf have in common."""

from recipes.writing import fold, nearest
from studio import cells

from .rows import Kind

AMOUNT_WORDS = ("how much", "quantity", "qty", "stock", "in stock", "on hand", "here", "left")


def key_of(lot):
    """ "dye-3": what a lot is a lot of, as the forms of deliveries call it."""
    if lot.base_id:
        return f"base-{lot.base_id}"
    return f"dye-{lot.dye_id}" if lot.dye_id else f"assistant-{lot.assistant_id}"


class OfThings(Kind):
    """Rows that name a thing of the shelf."""

    def find(self, line, key, name, named):
        """What a name means among {folded name: [...]}: a list, empty where that is told already."""
        found = named.get(fold(name), [])
        if not found:
            near = nearest(name, named)
            hint = f" Is {self.called(named[near][0])} meant?" if near else ""
            self.tell(line, key, f"{cells.quoted(name)} is not on the shelf yet: put it there first.{hint}")
        return found

    @staticmethod
    def called(thing):
        return getattr(thing, "name", "") or str(thing)

    def at(self, line, row, key):
        """A day in the cell as the form of the page reads it, or ""."""
        found = self.try_cell(line, row, key, self.day)
        return found.isoformat() if found else ""

    def needs_unit(self, line, row, key, unit_hint):
        """Tell of a number without a unit, where a shelf has several."""
        text = row.get(key, "")
        if text and not any(sign.isalpha() for sign in text):
            self.tell(line, key, f"{cells.quoted(text)} of what? Write the unit too: {unit_hint}.")
