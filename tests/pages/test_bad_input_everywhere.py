"""Every form of every page, sent with what people and machines really type: never a crash, and nothing typed is lost.

The pages are found by walking the addresses, so a new form is covered the day it is written.
"""

from urllib.parse import urlsplit

import pytest
from django.db import transaction
from django.urls import URLPattern, get_resolver, reverse
from django.utils import timezone
from lxml import html

from batches.demo.story import Story
from batches.models import Batch, Entry, PhotoTaken, Run, StrengthTest, TagPrint
from batches.views.entries import PAGES
from recipes.house_views import LISTS
from recipes.pasting import KINDS
from studio import doors
from studio.models import Assistant, Base, Delivery, Lot, Measure, Person, Picture, Tool, Vessel

JUNK = {
    "empty": "",
    "spaces": "   ",
    "negative": "-5",
    "absurd": "99999999999999999999",
    "wrong unit": "3 bananas",
    "ambiguous": "1,000",
    "emoji": "🧶",
    "long": "x" * 10_000,
    "nul": "a\x00b\x1f",
    "markup": "<script>alert(1)</script>",
    "quotes": "'\";--",
    "not a number": "NaN",
    "a time": "2026-13-45T99:99",
}
PATTERN_FOR = ("empty", "wrong unit", "negative", "nothing at all")
TYPED = ("text", "search", "password", "url", "email", "tel", "date", "time", "datetime-local", "number", None)
HIDDEN_TOO = ("hidden", "radio", "select")


def patterns(resolver, prefix=""):
    for part in resolver.url_patterns:
        if isinstance(part, URLPattern):
            yield f"{prefix}{part.name}", part
        else:
            yield from patterns(part, f"{part.namespace}:" if part.namespace else prefix)


def samples():
    """View name -> the arguments of a page that exists. A new address with arguments needs a row here."""
    done, running = Run.objects.filter(state="finished").first(), Run.objects.filter(state="running").first()
    bare = Run.objects.filter(recipe=None).first()
    pot = running.batches.first()
    powder, bottle = Lot.objects.filter(dye__name="Brick").first(), Lot.objects.filter(solution__isnull=False).first()
    use = powder.movements.exclude(kind="received").first()
    measure = Measure.objects.create(name="Spoon tip")
    entry = pot.entries.filter(kind="addition").first()
    planned = Run.objects.filter(state="planned").first()
    Batch.objects.filter(pk=pot.pk).update(label="110 %")
    StrengthTest.of_run(running, lot=powder, before_pct=100, percents={pot: 110})  # its page asks which matched
    second = running.colourway.next_version(by=running.by, now=timezone.now(), fibre_g=100)
    noted = (
        Entry.objects.exclude(finish__next_time="").filter(kind="finish", batch__run__colourway__isnull=False).first()
    )
    shown = PhotoTaken.objects.select_related("entry__batch__run").first()
    keys = {
        "base": Base.objects.first().pk,
        "dye": powder.dye_id,
        "assistant": Assistant.objects.first().pk,
        "solution": bottle.solution_id,
        "vessel": Vessel.objects.first().pk,
        "tool": Tool.objects.first().pk,
        "measure": measure.pk,
        "delivery": Delivery.objects.first().pk,
        "lot": powder.pk,
        "person": Person.objects.get(name="Pia").pk,
    }
    found = {f"studio:{word}": [{"pk": pk}] for word, pk in keys.items()}
    found |= {f"studio:{word}-edit": [{"pk": pk}] for word, pk in keys.items()}
    found |= {f"studio:lot-{what}": [{"pk": powder.pk}, {"pk": bottle.pk}] for what in ("count", "correct", "waste")}
    found |= {f"batches:{what}": [{"code": done.code}, {"code": running.code}] for what in RUN_PAGES}
    found |= {f"recipes:{what}": [{"pk": done.recipe_id or running.recipe_id}] for what in ("recipe", "recipe-edit")}
    found |= {f"recipes:{what}": [{"pk": running.colourway_id}] for what in ("colourway-edit", "write")}
    return found | {
        "studio:person-password": [{"pk": keys["person"]}],
        "studio:picture": [{"id": Picture.objects.first().pk, "size": "thumb"}],
        "studio:lot-undo": [{"pk": powder.pk, "movement_pk": use.pk}],
        "studio:document": [],  # the demo studio keeps none; no form there
        "studio:sound": [],  # nor of these
        "recipes:house-new": [{"slug": slug} for slug in LISTS],
        "recipes:house-row": [{"slug": slug, "pk": one.model.objects.first().pk} for slug, one in LISTS.items()],
        "batches:measure-used": [{"pk": keys["measure"]}],
        "batches:run-day": [{"code": planned.code}],
        "batches:replan": [{"code": planned.code}, {"code": running.code}],
        "batches:note-put": [{"code": noted.batch.run.code, "key": noted.pk}],
        "batches:series": [{"recipe_pk": running.recipe_id}],
        "batches:ladder": [{"pk": powder.pk}],
        "batches:close": [{"pk": running.colourway_id}],
        "recipes:difference": [{"pk": second.pk, "other": running.recipe_id}],
        "recipes:bottle-make": [{"pk": bottle.solution_id}],
        "recipes:bottle-weaker": [{"pk": bottle.pk}],
        "recipes:paste": [{"slug": slug} for slug in KINDS],
        "recipes:paste-template": [{"slug": slug} for slug in KINDS],
        "batches:plan": [{"recipe_pk": running.recipe_id}],
        "batches:run-name": [{"code": bare.code}],
        "batches:tag-sheet": [{"sheet": TagPrint.objects.first().sheet}],
        "batches:pot": [{"vessel_pk": keys["vessel"], "number": 1}],
        "batches:colourway": [{"pk": running.colourway_id}],
        "batches:photo": [{"code": shown.entry.batch.run.code, "key": shown.pk}],
        "batches:photo-crop": [{"code": shown.entry.batch.run.code, "key": shown.pk}],
        "batches:sink": [{"pk": pot.pk}],
        "batches:sink-all": [{"pk": pot.pk}],
        "batches:kit": [{"pk": pot.pk}],
        "batches:entry": [{"pk": pot.pk, "name": name} for name in PAGES],
        "batches:strike": [{"pk": pot.pk, "entry_id": entry.pk}],
    }


RUN_PAGES = (
    "run",
    "run-log",
    "run-yarn",
    "run-abandon",
    "photos",
    "compare",
    "judge",
    "finish",
    "cost",
    "tags",
    "ties",
    "bench-sheet",
    "capture",
    "from-paper",
)


def addresses():
    """(view name, path) of every page that the owner may open."""
    known = samples()
    for name, pattern in patterns(get_resolver()):
        door = doors.table().get(name)
        if door is None or "owner" not in door.read or name == "studio:sign-in":
            continue
        for arguments in known[name] if pattern.pattern.converters else [{}]:
            yield name, reverse(name, kwargs=arguments)


def may_be_typed_in(box):
    if box.get("readonly") is not None or box.get("hidden") is not None:
        return False
    return box.tag == "textarea" or box.tag == "input" and box.get("type") in TYPED


def forms_of(path, page):
    """(action, fields, names to type in) of each form of a page that sends something."""
    if page.status_code != 200 or "html" not in page.headers.get("Content-Type", ""):
        return
    for form in html.fromstring(page.content.decode()).forms:
        if (form.method or "get").lower() != "post" or "sign-out" in (form.action or ""):
            continue
        fields = {
            key: value for key, value in form.fields.items() if value is not None and key != "csrfmiddlewaretoken"
        }
        typed = [box.name for box in form.inputs if box.name and may_be_typed_in(box)]
        chosen = [
            box.name
            for box in form.inputs
            if box.name
            and (box.tag == "select" or getattr(box, "type", "") in HIDDEN_TOO)
            and box.name != "csrfmiddlewaretoken"
        ]
        yield urlsplit(form.action or path).path or path, fields, sorted(set(typed)), sorted(set(chosen))


def send(browser, action, fields, htmx=False):
    """The answer, with everything that it stored undone again."""
    with transaction.atomic():
        answer = browser.post(action, fields, headers={"HX-Request": "true"} if htmx else {})
        transaction.set_rollback(True)
    return answer


def kept(answer, name, junk):
    """Whether the page that came back still holds what was typed in this box."""
    shown = html.fromstring(answer.content.decode())
    boxes = shown.xpath("//*[@name=$name and not(@type='password')]", name=name)
    if not boxes:
        return True  # the page that came back has no such box: it moved on
    values = [box.text_content() if box.tag == "textarea" else box.get("value", "") for box in boxes]
    return any(value.strip() == junk.strip() for value in values)


def errors_of(answer, fragment=False):
    """What a refusal lacks of the whole pattern: title, a summary that takes the focus, links to the fields' own ids,
    and beside each field a sentence that the field names as its description (WCAG 2.2, 3.3.1; ARIA21 and ARIA1).
    """
    shown = html.fromstring(answer.content.decode())
    titles = [title.text_content() for title in shown.xpath("//head/title")]
    if not fragment and not (titles and titles[0].startswith("Error: ")):
        yield "its title does not begin with Error:"
    summary = shown.xpath("descendant-or-self::*[@role='alert']" if fragment else "//main//*[@role='alert']")[:1]
    if not summary:
        yield "has no summary"
        return
    main = summary[0].xpath("ancestor::main//*[self::h1 or self::form or @role='alert'][1]")
    if main and main[0] is not summary[0]:
        yield "its summary does not stand first"
    if summary[0].get("tabindex") != "-1" or summary[0].get("autofocus") is None:
        yield "its summary can't take the focus"
    if not summary[0].xpath(".//li[normalize-space()]"):
        yield "its summary is empty"
    linked = {link.get("href").removeprefix("#") for link in summary[0].xpath(".//a")}
    for target in linked:
        if len(shown.xpath("//*[@id=$id]", id=target)) != 1 and shown.xpath("//form"):
            yield f"its summary leads to #{target}, which stands {len(shown.xpath('//*[@id=$id]', id=target))} times"
    said = " ".join(summary[0].text_content().split())
    for problem in shown.xpath("//*[@class='problem']"):
        described = shown.xpath("//*[contains(concat(' ', @aria-describedby, ' '), $id)]", id=f" {problem.get('id')} ")
        around = shown.xpath("//*[@id=$id]/ancestor::*[contains(@class, 'wrong')][1]", id=problem.get("id"))
        boxes = [box for each in around for box in each.xpath(".//input | .//select | .//textarea")]
        # A question that is answered by pressing one of several buttons has no box that could be wrong.
        boxes = [box for box in boxes if box.get("aria-invalid") == "true"] if boxes else shown.xpath("//button[@id]")
        if not problem.get("id") or not described:
            yield f"nothing is described by “{problem.text_content()}”"
        if not boxes:
            yield f"no field says that it is wrong beside “{problem.text_content()}”"
        if not any(box.get("id") in linked for box in boxes):
            yield f"no link leads to the field of “{problem.text_content()}”"
        sentence = " ".join(problem.xpath("string(text()[normalize-space()][1])").split())
        if sentence not in said:
            yield f"its summary does not say “{sentence}”"


def chosen_lost(answer, action, fields):
    """Names of lists and rows of choices that came back with something else chosen than was sent."""
    shown = html.fromstring(answer.content.decode())
    for name, value in fields.items():
        options = shown.xpath("//input[@type='radio'][@name=$name]", name=name)
        options += shown.xpath("//select[@name=$name]/option", name=name)
        if not any(option.get("value") == value for option in options):
            continue
        if not any(
            option.get("value") == value and (option.get("checked") is not None or option.get("selected") is not None)
            for option in options
        ):
            yield name


def faults(browser, name, path):
    """Sentences about what went wrong with a page's forms."""
    page = browser.get(path)
    if page.status_code >= 500:
        yield f"{name}: {page.status_code} when opened"
    for action, fields, typed, chosen in forms_of(path, page):
        tries = [(kind, {**fields, **dict.fromkeys(typed, junk)}) for kind, junk in JUNK.items()] if typed else []
        tries += [(f"foreign {field}", {**fields, field: junk}) for field in chosen for junk in ("999999", "zzz", "")]
        tries.append(("nothing at all", {}))
        for kind, sent in tries:
            answer = send(browser, action, sent)
            if answer.status_code >= 500:
                yield f"{name} -> {action}: {answer.status_code} for {kind}"
            elif answer.status_code == 422 and kind in ("wrong unit", "ambiguous", "emoji", "negative"):
                lost = [field for field in typed if not kept(answer, field, JUNK[kind])]
                lost += chosen_lost(answer, action, sent)
                if lost:
                    yield f"{name} -> {action}: {kind} typed in {', '.join(lost)} was lost"
            if answer.status_code == 422 and kind in PATTERN_FOR:
                yield from (f"{name} -> {action}: {kind}: {fault}" for fault in errors_of(answer))
                again = send(browser, action, sent, htmx=True)
                whole = b"</html>" in again.content
                yield from (f"{name} -> {action}: htmx, {kind}: {fault}" for fault in errors_of(again, not whole))


@pytest.mark.django_db
@pytest.mark.parametrize("room", ["studio", "recipes", "batches"])
def test_every_form_survives_what_is_typed(client_of, room):
    Story().tell_briefly()
    browser = client_of(Person.objects.get(name="Oda"))
    browser.raise_request_exception = False
    here = [(name, path) for name, path in addresses() if name.startswith(room)]
    assert here
    found = [fault for name, path in here for fault in faults(browser, name, path)]
    assert not found, "\n".join(found)
