"""Making up bottles: fresh, topped up, mixed from others, or weaker.

A plan or a day's sheet that sends somebody here says where to come back to (`?back=`), and as what the new bottle is
wanted there (`?as=choose-12`): see `came_from`. A plan that reckons with certain powder lots names them (`?of=12`):
they stand first, and so do bottles of them alone.
"""

import re
from decimal import Decimal
from urllib.parse import urlencode

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from recipes import bottles, holding
from recipes.bottle_forms import BottleForm, DescribeForm, VolumeForm, WeakerForm
from studio import cautions, units
from studio.models import Lot, Solution, Tool
from studio.once import only_once

USUAL_ML = 500
MOST_LOTS = 60  # that an address may name
LONGEST_BACK = 3000  # of an address: a plan's carries all that was typed into it
REST_GONE = (
    "The bottle to be topped up is empty by the books, or gone: what stands here makes a whole one without it. If some "
    "is left in it, count it first."
)
WANTED_AS = re.compile(r"[a-z][a-z-]{0,30}[0-9]{1,15}")


@require_safe
def choose(request):
    """Which bottle: the masters there are, or a new one."""
    return choose_page(request)


def choose_page(request, refused=None):
    """`refused`: a form that asked for a bottle there can't be."""
    masters = Solution.objects.filter(retired=False).prefetch_related("parts__dye", "parts__assistant")
    context = {"masters": masters, "here": "shelf", "back": came_from(request)[0]}
    if refused is not None:
        context |= {"refused": " ".join(sentence for errors in refused.errors.values() for sentence in errors)}
    return render(request, "recipes/bottle_choose.html", context, status=200 if refused is None else 422)


@require_http_methods(["GET", "HEAD", "POST"])
def make(request, pk):
    """Make up a bottle. `?volume=500` is worked out; `?rest=12` begins with what is left in that bottle."""
    solution = get_object_or_404(Solution.objects.prefetch_related("parts__dye", "parts__assistant"), pk=pk)
    lots = bottles.shelf_for(solution)
    rest, gone = _rest(request, solution, lots)
    wanted = [lot for lot in lots if lot.dye_id and str(lot.pk) in _lots_named(request)]
    usual = _usual(solution)
    asked = VolumeForm(
        request.GET if "volume" in request.GET else None,
        solution=solution,
        initial={"volume": _in_unit(usual, solution)},
        auto_id="asked_%s",
    )
    volume = asked.amount() if asked.is_bound and asked.is_valid() else usual
    if request.method != "POST":
        form = BottleForm(solution=solution, lots=lots, rest=rest, initial=_first_values(solution, volume, rest))
    else:
        form = BottleForm(request.POST, solution=solution, lots=lots, rest=rest)
        if form.is_valid() and not gone:
            return _made(request, solution, form)
    tools = list(Tool.objects.filter(retired=False))
    parts = bottles.work_out(solution, volume, lots, tools, rest, rest.on_hand if rest else bottles.ZERO)
    sources = [source.lot.substance for part in parts for source in part.sources if not source.lot.is_bottle]
    context = {
        "solution": solution,
        "asked": asked,
        "volume": volume,
        "form": form,
        "forms": [asked],
        "rest": rest,
        "refused": REST_GONE if gone else "",
        "parts": [_boxes(part, form, wanted) for part in parts],
        "wanted": wanted,
        "mixes": [(source, form[f"lot-{source.lot.pk}"]) for source in bottles.mixes(solution, lots)],
        "older": [lot for lot in lots if lot.solution_id == solution.pk],
        "back": came_from(request)[0],
        "wanted_as": came_from(request)[1],
        "care": [key for source in sources for key in cautions.of_substance(source)],
        "sheets": sources,
        "here": "shelf",
    }
    return render(request, "recipes/bottle_make.html", context, status=422 if form.is_bound else 200)


def _boxes(part, form, wanted):
    """(a `Part`, [(its source, the box)] of what it is wanted of, the same of the others)."""
    boxes = [(source, form[f"lot-{source.lot.pk}"]) for source in part.sources]
    powders = {lot.pk for lot in wanted}
    first = [box for box in boxes if (own := set(holding.powder_lots(box[0].lot))) and own <= powders]
    return (part, first, [box for box in boxes if box not in first]) if first else (part, boxes, [])


def _lots_named(request):
    """Keys of the powder lots that a plan reckoned with, as they stand in the address."""
    return request.GET.getlist("of")[:MOST_LOTS]


def came_from(request):
    """(the address to come back to, or ""; the names under which the bottle is wanted there)."""
    said = request.POST if request.method == "POST" and "back" in request.POST else request.GET
    back = said.get("back", "")
    safe = back.startswith("/") and len(back) <= LONGEST_BACK and url_has_allowed_host_and_scheme(back, None)
    return (back, [name for name in said.getlist("as")[:60] if WANTED_AS.fullmatch(name)]) if safe else ("", [])


def _made(request, solution, form):
    """Keep the bottle; then back to where it was wanted, where it is chosen, else to the bottle's own page."""
    made = []

    def make():
        made.append(_make(request, solution, form))
        return made[0]

    answer = only_once(request, form.cleaned_data["once"], make)
    back, names = came_from(request)
    if not made or not back:
        return answer
    chosen = urlencode([(name, made[0].pk) for name in names])
    return redirect(f"{back}{'&' if '?' in back else '?'}{chosen}" if chosen else back)


@require_POST
def describe(request):
    """A bottle of one dye or assistant, so strong, that nobody described yet: it is, and then it is made up.

    What of is in the address: the button stands in the form of a plan, and its body is that plan.
    """
    form = DescribeForm(request.GET)
    if not form.is_valid():
        return choose_page(request, form)
    back, names = came_from(request)
    volume = request.GET.get("volume", "")[:20]
    lots = [("of", key) for key in _lots_named(request)]
    query = urlencode([("volume", volume), *lots, ("back", back), *(("as", name) for name in names)])
    return redirect(f"{reverse('recipes:bottle-make', args=[form.master().pk])}?{query}")


def _usual(solution):
    """What was made of it the last time, or the usual bottle."""
    last = solution.lots.order_by("-came_at", "-pk").first()
    return last.received if last else Decimal(USUAL_ML)


def _rest(request, solution, lots):
    """(the older bottle that goes in first, or None; whether one was asked for that is not there any more)."""
    asked = request.GET.get("rest", "")
    found = next((lot for lot in lots if lot.solution_id == solution.pk and str(lot.pk) == asked), None)
    return found, bool(asked) and found is None


def _first_values(solution, volume, rest):
    rest_amount = _in_unit(rest.on_hand, solution) if rest else None
    return {"volume": _in_unit(volume, solution), "use_by": solution.use_by(timezone.localdate()), "rest": rest_amount}


def _in_unit(amount, solution):
    return units.Amount(amount, solution.unit)


def _make(request, solution, form):
    parts = form.parts()
    short = [lot for lot, amount in parts if amount > lot.on_hand]
    bottle = Lot.make_bottle(solution, volume=form.volume(), parts=parts, by=request.dyeing, **form.facts())
    messages.success(request, made_in_words(bottle))
    for lot in short:
        messages.warning(request, f"More of {lot} went in than the shelf said was there: count it.")
    return bottle


def made_in_words(bottle):
    """What to say of a bottle just made: how strong it really is, and how far that is from its master."""
    bottle = bottles.with_contents(Lot.objects.filter(pk=bottle.pk)).get()
    true, colours = bottle.strength(), holding.strength_at_standard(bottle)
    made = units.write_g(bottle.received) if bottle.unit == "g" else units.write_ml(bottle.received)
    if true is None or not true:
        return f"Made: {made} of {bottle}."
    said = f"Made: {made} of {bottle}. Its true strength is {units.write_pct(true)}"
    if colours is not None and units.write_pct(colours) != units.write_pct(true):
        said += f", and it colours like {units.write_pct(colours)} at your standard strength"
    wanted = sum(part.g_per_100 for part in bottle.solution.parts.all() if part.dye_id)
    if wanted and colours and abs(colours / wanted - 1) >= Decimal("0.02"):
        off = abs(colours / wanted - 1) * 100
        said += f": {units.write_number(off, digits=2)} % {'stronger' if colours > wanted else 'weaker'} than meant"
    return said + "."


@require_http_methods(["GET", "HEAD", "POST"])
def weaker(request, pk):
    """A weaker bottle of the same: how much to pour, and a master of its own where there is none yet."""
    lot = get_object_or_404(bottles.with_contents(Lot.objects.filter(solution__isnull=False)), pk=pk)
    strength = holding.strength_at_standard(lot)
    form = WeakerForm(request.POST if request.method == "POST" else None)
    context = {"lot": lot, "strength": strength, "form": form, "here": "shelf"}
    if form.is_bound and form.is_valid() and strength:
        volume = units.normalise(form.cleaned_data["volume"]).number
        try:
            master = bottles.weaker_master(lot, form.cleaned_data["strength"])
        except ValueError as problem:
            form.add_error("strength", str(problem))
        else:
            return redirect(f"{reverse('recipes:bottle-make', args=[master.pk])}?volume={units.write_number(volume)}")
    return render(request, "recipes/bottle_weaker.html", context, status=422 if form.is_bound else 200)
