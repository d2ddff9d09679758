"""What the colourway pages show: each one's colour bar, versions, runs and notes, in a fixed number of queries."""

from collections import defaultdict
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import Case, Count, F, Max, OuterRef, Q, Subquery, Sum, UUIDField, When, prefetch_related_objects
from django.db.models.functions import Coalesce

from recipes import meaning
from recipes.models import Colourway, Recipe
from studio.colourbar import Segment
from studio.units import write_count, write_pct

from . import depth, finding, next_time
from .models import Batch, Captured, Entry, Output, Run, State, Verdict
from .under_way import pots_in_words

DYED = [State.RUNNING, State.FINISHED]
MOST_RUNS = 48
MOST_DYED = 8  # runs named beside a version
MOST_HISTORY = 100
WORTH = {Verdict.STANDARD: 0, Verdict.AS_GOOD: 1, Verdict.NEVER: 3}  # best first; in between what nobody judged so


@dataclass
class Dyed:
    """A run, or those of its pots, that were dyed from a version, and what they were judged to be."""

    run: Run
    pots: str = ""  # "pots 3 and 4", where the others were of another version
    verdict: str = ""


@dataclass
class Version:
    """A version as the colourway's page shows it. `depth_pct`: all its dye on the yarn it is written for."""

    recipe: Recipe
    segments: list
    depth_pct: Decimal
    at_least: bool
    dyed: list = field(default_factory=list)  # [Dyed], newest first
    earlier: int = 0  # how many runs more
    taken_from: Run | None = None  # whose log it was taken from

    @property
    def estimated(self):
        return meaning.estimated(self.recipe)

    @property
    def hedge(self):
        """ "at least", "about", "at least about", as its depth is said."""
        words = [("at least", self.at_least), ("about", bool(meaning.estimated_dyes(self.recipe)))]
        return " ".join(word for word, holds in words if holds)


@dataclass
class Group:
    """The versions for one group of bases, newest first."""

    bases: list
    versions: list

    @property
    def words(self):
        return ", ".join(self.bases) or "No base said"


@dataclass
class Told:
    """A run with what was said of it when it was finished."""

    run: Run
    segments: list
    bases: list
    skeins: int | None
    verdict: str = ""
    by_pot: dict = field(default_factory=dict)  # {batch key: verdict}


def for_rows(colourways):
    """Colourways with `version_key` (the standard, else the newest), `run_key` (the run that stands for it, else the
    newest dyed), `run_count`, `last_day` and `cover_key`.
    """
    newest = Recipe.objects.filter(colourway=OuterRef("pk")).order_by("-number").values("pk")[:1]
    shown = best_first(Run.objects.filter(colourway=OuterRef("pk")))
    dyed = Q(runs__state__in=DYED)
    last = Run.objects.filter(colourway=OuterRef("pk"), state__in=DYED).newest_first()
    return colourways.annotate(
        version_key=Coalesce("standard_id", Subquery(newest)),
        run_key=Coalesce(Subquery(shown.values("pk")[:1]), Subquery(last.values("pk")[:1])),
        run_count=Count("runs", filter=dyed),
        last_day=Max("runs__day", filter=dyed),
        # The field is named, since the key of another table comes out of SQLite as text without its marks.
        cover_key=Subquery(shown.values("cover")[:1], output_field=UUIDField()),
    )


def best_first(runs):
    """Of these runs the ones that a photo leads, the one that stands for their colourway first.

    That is one dyed from its standard version, then one judged to be the colour to match, then the
    newest. A wet photo leads no run by itself, so none stands for a colourway unless somebody chose it.
    """
    said = Entry.objects.that_judge().filter(batch__run=OuterRef("pk")).order_by("-at", "-received_at", "-pk")
    shown = runs.filter(cover__isnull=False).annotate(
        verdict=Subquery(said.values("finish__verdict")[:1]),
        by_standard=Case(When(recipe=F("colourway__standard"), then=0), default=1),
    )
    worth = Case(*[When(verdict=verdict, then=place) for verdict, place in WORTH.items()], default=2)
    return shown.order_by("by_standard", worth, "-day", "-pk")


def rows(colourways):
    """[{colourway, version, segments}] of a page of `for_rows`. A fixed number of queries, however many.

    The colours are those that are written, else those that went into the run that stands for the colourway.
    """
    colourways = list(colourways)
    versions = Recipe.objects.in_bulk([each.version_key for each in colourways if each.version_key])
    with_dyes(versions.values())
    unwritten = [each.run_key for each in colourways if each.run_key and not each.version_key]
    bars = depth.bars_of_runs(Run.objects.filter(pk__in=unwritten).only("pk"))
    return [
        {
            "colourway": each,
            "version": versions.get(each.version_key),
            "segments": segments_of(versions[each.version_key])[0] if each.version_key else bars.get(each.run_key, []),
        }
        for each in colourways
    ]


def with_dyes(versions):
    """The versions with what their colour bars need."""
    prefetch_related_objects(
        list(versions),
        "steps__ingredients__dye",
        "steps__ingredients__assistant",
        "steps__ingredients__solution__parts__dye",
    )


def segments_of(version):
    """(colour bar in % of the yarn's weight, depth of all the dye together, whether some is by eye)."""
    dyes = meaning.dyes_g(version)
    about = meaning.estimated_dyes(version)
    shares = [(dye, None if grams is None else grams * 100 / version.fibre_g) for dye, grams in dyes]
    segments = [
        Segment(
            dye.name,
            dye.colour,
            share,
            unweighed=share is None,
            amount="" if share is None else f"{'about ' if dye in about else ''}{write_pct(share)}",
        )
        for dye, share in shares
    ]
    known = [share for _, share in shares if share is not None]
    return segments, sum(known, Decimal(0)), len(known) < len(shares)


def page_of(colourway):
    """Everything the page of one colourway shows."""
    runs = told(Run.objects.filter(colourway=colourway).for_rows().newest_first()[:MOST_RUNS], colourway)
    versions, by_run = versions_of(colourway, runs), {each.run.pk: each for each in runs}
    standard = next((each for each in versions if each.recipe.pk == colourway.standard_id), None)
    widest = max((each.depth_pct for each in versions), default=None)
    cover = cover_of(colourway, runs)
    return {
        "colourway": colourway,
        "runs": runs,
        "notes": [(note, by_run.get(note.run.pk)) for note in next_time.notes_of(colourway)],
        "versions": versions,
        "groups": groups_of(versions, colourway),
        "standard": standard,
        "before": standard_before(colourway, versions),
        "shown": standard or (versions[0] if versions else None),
        "scale": widest or None,
        "cover": cover,
        "as_dyed": cover or next((each for each in runs if each.run.state in DYED), None),
        "may_compare": sum(len(each.run.batches.all()) for each in runs if each.run.state in DYED) > 1,
        "so_far": so_far(colourway, runs),
        "bases": list(dict.fromkeys(name for each in runs if each.run.state in DYED for name in each.bases)),
    }


def versions_of(colourway, runs):
    """Newest first, each with the runs or pots that were dyed from it."""
    recipes = list(colourway.recipes.order_by("-number").select_related("by"))
    with_dyes(recipes)
    prefetch_related_objects(recipes, "bases")
    by_recipe = dyed_from(runs)
    counted = Batch.objects.filter(recipe__in=recipes).order_by().values_list("recipe")
    counts = dict(counted.annotate(runs=Count("run", distinct=True)))
    logs = {one.recipe_id: one.run for one in Captured.objects.filter(recipe__in=recipes).select_related("run")}
    found = []
    for recipe in recipes:
        dyed = by_recipe[recipe.pk]
        shown = dyed[:MOST_DYED]
        earlier = max(0, counts.get(recipe.pk, 0) - len(shown))
        found.append(Version(recipe, *segments_of(recipe), shown, earlier, logs.get(recipe.pk)))
    return found


def dyed_from(runs):
    """{version key: [Dyed]} of these runs, which are `Told`, in their order: the pots of one may be of several."""
    by_recipe = defaultdict(list)
    for each in runs:
        pots = defaultdict(list)
        batches = each.run.batches.all()
        for batch in batches:
            pots[batch.recipe_id].append(batch)
        for key, of_it in pots.items():
            words = "" if len(of_it) == len(batches) else pots_in_words(of_it)
            said = [each.by_pot[batch.pk] for batch in of_it if each.by_pot.get(batch.pk)]
            by_recipe[key].append(Dyed(each.run, words, said[-1] if said else ""))
    return by_recipe


def groups_of(versions, colourway):
    """[Group] of these versions by the bases they are for; the one with the standard first, then as they are."""
    groups = {}
    for version in versions:
        bases = tuple(sorted(base.name for base in version.recipe.bases.all()))
        groups.setdefault(bases, Group(list(bases), [])).versions.append(version)
    return sorted(
        groups.values(), key=lambda group: all(one.recipe.pk != colourway.standard_id for one in group.versions)
    )


def standard_before(colourway, versions):
    """The version that was the standard before the one that is it now; None where there was none. A query."""
    by_key = {version.recipe.pk: version.recipe for version in versions}
    told = colourway.history.order_by("-history_date", "-history_id").values_list("standard_id", flat=True)
    others = [key for key in told[:MOST_HISTORY] if key != colourway.standard_id]
    return by_key.get(others[0]) if others and colourway.standard_id else None


def told(runs, colourway):
    """Runs with their colour bars, verdicts and notes for the next time."""
    runs = list(runs)
    bars = depth.bars_of_runs(runs)
    found = {run.pk: Told(run, bars.get(run.pk, []), finding.bases_of(run), finding.skeins_of(run)) for run in runs}
    finishes = Entry.objects.that_judge().filter(batch__run__in=list(found))
    for entry in finishes.in_order().select_related("finish", "batch"):
        each, said = found[entry.batch.run_id], entry.finish
        each.verdict = each.by_pot[entry.batch_id] = Verdict(said.verdict).label if said.verdict else ""
    return list(found.values())


def cover_of(colourway, runs):
    """The run whose picture stands for the colourway, as `Told`; None where no photo leads any. `runs`: the newest."""
    best = best_first(Run.objects.filter(colourway=colourway)).values_list("pk", flat=True).first()
    known = next((each for each in runs if each.run.pk == best), None)
    if known is not None or best is None:
        return known
    return told(Run.objects.filter(pk=best).for_rows(), colourway)[0]


def so_far(colourway, runs):
    """ "7 runs, 40 skeins, 33 firsts" over all runs of the colourway; "" before the first."""
    count = colourway.runs.filter(state__in=DYED).count()
    if not count:
        return ""
    outputs = Output.objects.standing().filter(yarn__batch__run__colourway=colourway)
    by_grade = dict(outputs.order_by().values_list("grade").annotate(total=Sum("skeins")))
    said = [write_count(count, "run")]
    if by_grade:
        total, firsts = sum(by_grade.values()), by_grade.get(Output.Grade.FIRST, 0)
        said += [write_count(total, "skein"), write_count(firsts, "first")]
    return ", ".join(said)


def find(text):
    """Colourways whose name or story has these words."""
    found = Colourway.objects.all()
    for word in text.split()[:8]:
        found = found.filter(Q(name__icontains=word) | Q(story__icontains=word))
    return found
