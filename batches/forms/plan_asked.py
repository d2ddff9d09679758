"""All that the page of a plan asks, judged together."""

from datetime import timedelta

from batches import beginning, loading
from recipes.models import Method, Recipe
from recipes.plans import Wishes
from studio.forms.rows import asked_for_more, with_one_more
from studio.models import Vessel
from studio.naming import one_of
from studio.units import write_count, write_g, write_ml, write_number

from .loads import CapacityRows, LoadRows, OneLoad, as_rows
from .measuring import MeasureForm
from .moving import MoveForm
from .starting import PlanForm, YarnRows

ROWS = {"yarn": YarnRows, "room": CapacityRows, "load": LoadRows}
NO_ROWS = {f"{name}-{count}_FORMS": "0" for name in ROWS for count in ("TOTAL", "INITIAL")}


class PlanAsked:
    """The forms of the plan's page: yarn and pots, the loads where they were proposed, and what unfolds below.

    `parts`: {name in the template: form} of what unfolds below the yarn and the pots. Such a form takes the posted data
    and answers `wishes()`, a dict of fields of `recipes.plans.Wishes`, once it is valid.
    """

    def __init__(self, recipe, data=None):
        self.recipe, self.data = recipe, None if data is None else _with_rows(data)
        self._read()

    def _read(self):
        data = self.data
        self.vessels = {str(vessel.pk): vessel for vessel in Vessel.objects.filter(retired=False)}
        self.form, self.yarns = PlanForm(data, initial=self._begins_with()), YarnRows(data, prefix="yarn")
        self.rooms = CapacityRows(data, prefix="room", form_kwargs={"vessels": self.vessels})
        self.loads = self._loads()
        self.parts = {"move": MoveForm(self.recipe, data), "weighing": MeasureForm(self.recipe, data)}

    def _begins_with(self):
        """What the pots are said to be before anybody says it: for whole pots as many as in the notebook, and for these
        and for jars and pans the vessel that it can only be.
        """
        recipe = self.recipe
        by_pots = recipe.scales == Recipe.Scales.POTS
        fit = [vessel for vessel in self.vessels.values() if vessel.kind == recipe.method]
        sure = len(fit) == 1 and (by_pots or recipe.method in (Method.JAR, Method.PAN))
        return {"pots": recipe.pots if by_pots else 1, "vessel": fit[0].pk if sure else None}

    @property
    def all(self):
        return [self.form, self.yarns, self.rooms, self.loads, *self.parts.values()]

    def asked_for_more(self):
        """Whether only more rows were asked for, or to do without loads; then it is done, and nothing is judged."""
        if self.data is None:
            return False
        more = next((name for name in ROWS if asked_for_more(self.data, name)), None)
        if more is not None:
            self.data = with_one_more(self.data, more, most=ROWS[more].max_num)
        elif self.data.get("do") == "no-loads":
            self.data = _changed(self.data, {"load-TOTAL_FORMS": "0"})
        else:
            return False
        self._read()
        for form in self.all:
            form.unjudged()
        return True

    def is_valid(self):
        wrong = [form for form in self.all if not form.is_valid()]  # all of them are asked, so each says what is wrong
        return self.data is not None and not wrong and self._has_yarn() and self._has_loads()

    def _has_yarn(self):
        if not self.wanted:
            self.yarns.forms[0].add_error("lot", "Choose the yarn to dye.")
        return bool(self.wanted)

    def _has_loads(self):
        """Whether the loads hold the yarn; where they are asked for, they are proposed first."""
        if self.data.get("do") == "propose" and not self._propose():
            return False
        said = self.loads.loads()
        held, skeins = sum(load.skeins for load in said), sum(skeins for _, skeins in self.to_dye)
        if not said or held == skeins:
            return True
        pots = f"{write_count(len(said), 'pot')} {'holds' if len(said) == 1 else 'hold'} {write_count(held, 'skein')}"
        why = f"{pots}, and {skeins} are to be dyed: change a pot, or let them be proposed anew."
        self.loads.forms[-1].add_error("skeins", why)
        return False

    # --- yarn

    @property
    def wanted(self):
        """[(Yarn, skeins)] that are wanted."""
        return [(row["yarn"], row["skeins"]) for row in self.yarns.filled() if row.get("yarn")]

    @property
    def to_dye(self):
        """[(Yarn, skeins)] with the spare ones."""
        spare = self.form.cleaned_data.get("spare") or loading.Spare()
        return [(yarn, skeins + spare.of(skeins)) for yarn, skeins in self.wanted]

    @property
    def spares(self):
        return sum(skeins for _, skeins in self.to_dye) - sum(skeins for _, skeins in self.wanted)

    # --- loads

    def _loads(self):
        return LoadRows(self.data, prefix="load", form_kwargs={"vessels": self.vessels})

    def _propose(self):
        """Put the proposed loads in place of those that stand. Answers whether there are any; else a form says why."""
        rooms = self._rooms()
        if rooms is None:
            return False
        try:
            skeins = sum(skeins for _, skeins in self.to_dye)
            proposed = loading.propose(skeins, rooms, self.form.cleaned_data["over"])
        except ValueError as problem:
            self.form.add_error("over", str(problem))
            return False
        self.data = _changed(self.data, as_rows(proposed))
        self.loads = self._loads()
        return self.loads.is_valid()

    def _rooms(self):
        """[loading.Vessels] that were said, or the one vessel of the quick way; None where a form says what lacks."""
        rows = [form for form in self.rooms.forms if form.has_changed() and form.cleaned_data.get("vessel")]
        skein_g = max((yarn.skein_g for yarn, _ in self.wanted if yarn.skein_g), default=None)
        if not rows and self.form.cleaned_data["vessel"]:
            vessel = self.form.cleaned_data["vessel"]
            room = loading.Vessels(vessel.pk, vessel.how_many, beginning.takes(vessel, self.recipe, skein_g))
            lacks = self._lacks(vessel, room, skein_g)
            if lacks:
                self.form.add_error("vessel", lacks)
            return None if lacks else [room]
        if not rows:
            self.form.add_error(
                "vessel", "Choose a pot or jar here, or below: then it can be proposed how to fill them."
            )
            return None
        rooms = []
        for form in rows:
            vessel = form.cleaned_data["vessel"]
            rooms.append(form.vessels(beginning.takes(vessel, self.recipe, skein_g)))
            if lacks := self._lacks(vessel, rooms[-1], skein_g):
                form.add_error("takes", lacks)
        return None if any(form.errors for form in rows) else rooms

    def _lacks(self, vessel, room, skein_g):
        """A sentence where nobody knows how many skeins it takes, or it takes none; else ""."""
        if room.takes is None:
            return f"{one_of(vessel)}: how many skeins it takes is not known here. Say it under “Skeins in one”."
        if room.takes:
            return ""
        fill = vessel.fill_ml or vessel.volume_ml
        if vessel.skeins == 0 or not fill:
            return f"{one_of(vessel)} takes no skein, by what the studio says of it: say how many, or choose another."
        ratio = write_number(self.recipe.liquor_ratio)
        return (
            f"{one_of(vessel)} holds {write_ml(fill)}, and a skein of {write_g(skein_g)} wants more at {ratio}:1: say "
            "how many skeins all the same, or choose a larger one."
        )

    @property
    def pots(self):
        """[OneLoad] as they were proposed or said; of the quick way without skeins, as these are spread equally."""
        return self.loads.loads() or [OneLoad(1, vessel, None) for vessel in self.form.vessels()]

    @property
    def sizes(self):
        """Skeins of each pot; None: as equal as they come."""
        return [load.skeins for load in self.loads.loads()] or None

    @property
    def days(self):
        """The date of each pot."""
        day, gap = self.form.cleaned_data["day"], self.form.cleaned_data["gap"] or 1
        numbers = {number: place for place, number in enumerate(sorted({pot.day for pot in self.pots}))}
        return [day + timedelta(days=gap * numbers[pot.day]) for pot in self.pots]

    @property
    def twice_meant(self):
        """{Vessel key: loads a day of all of them} where it was said that one takes several in a day."""
        said = [form.cleaned_data for form in self.rooms.forms if form.cleaned_data.get("vessel")]
        return {row["vessel"].pk: (row["many"] or row["vessel"].how_many) * (row["loads"] or 1) for row in said}

    def blame(self, sentence):
        """Say what can't be worked out where the pots are said."""
        if self.loads.forms:
            self.loads.forms[0].add_error("vessel", sentence)
        else:
            self.form.add_error("pots", sentence)

    def wishes(self):
        found = {}
        for form in self.parts.values():
            found |= form.wishes()
        return Wishes(**found)

    def context(self):
        if self.loads.forms:  # each load has a number of its day, and this is the date of the first
            self.form["day"].label = "First day"
        own = {"form": self.form, "yarns": self.yarns, "rooms": self.rooms, "loads": self.loads}
        return own | {"unfolded": self._unfolded(), "forms": self.all, **self.parts}

    def _unfolded(self):
        """Whether something is said below the fold, so that nothing typed hides."""
        said = [self.form["spare"].value(), self.form["over"].value(), self.form["also"].value()]
        rows = self.data is not None and any(form.has_changed() or form.errors for form in self.rooms.forms)
        return rows or any(said) or any(self.form[name].errors for name in ("spare", "over", "gap", "also"))


def _with_rows(data):
    """The posted data; rows that a page did not have are none, but one of yarn there always is, to ask for it."""
    data = _changed(data, {name: count for name, count in NO_ROWS.items() if name not in data})
    return data if YarnRows(data, prefix="yarn").total_form_count() > 0 else _changed(data, {"yarn-TOTAL_FORMS": "1"})


def _changed(data, fields):
    data = data.copy()
    for name, value in fields.items():
        data[name] = value
    return data
