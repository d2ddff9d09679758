"""The write-up: what was skipped, each thing asked once, in one form for each run."""

from uuid import uuid4, uuid5

from django.contrib import messages
from django.http import QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from batches import intake, writeup
from batches.forms.writeup import AnswerForm
from batches.models import Run, State
from studio.once import number_of
from studio.units import write_count

MOST_RUNS = 60
SAID_BY = ("say", "words", "amount", "minutes")
NOTHING_SAID = "Nothing is said yet: answer one thing at least. What you leave is asked again."


@never_cache
@require_http_methods(["GET", "POST"])
def write_up(request):
    runs = runs_to_ask()
    asked = writeup.skipped(runs)
    sheets = [Sheet(run, asked[run.pk], request) for run in runs if run.pk in asked]
    sent = request.POST.get("run") if request.method == "POST" else None
    mine = next((sheet for sheet in sheets if sheet.run.code == sent), None)
    if mine is not None:
        mine.take(request)
    if mine is not None and mine.kept and not mine.refused:
        messages.success(request, f"{write_count(mine.kept, 'answer')} kept.")
        return redirect("batches:write-up")
    if sent and (mine is None or mine.silent and says_what_is_answered(request.POST)):
        messages.success(request, "That was answered already; nothing was added twice.")
        return redirect("batches:write-up")
    context = {
        "here": "journal",
        "sheets": [sheet for sheet in sheets if sheet.rows],
        "forms": [form for sheet in sheets for form in sheet.refused],
        "refused": NOTHING_SAID if any(sheet.silent for sheet in sheets) else "",
    }
    return render(request, "batches/write_up.html", context, status=422 if sent else 200)


def says_what_is_answered(post):
    """Whether something is said to a question that is asked no more: the page was sent before."""
    return any(post[name].strip() for name in post if name.rpartition("-")[2] in SAID_BY)


def runs_to_ask():
    """Runs that may have left something out: those of the last days, newest first, with their pots."""
    since = timezone.localdate() - writeup.LOOKS_BACK
    runs = Run.objects.exclude(state__in=[State.PLANNED, State.ABANDONED]).filter(day__gte=since)
    return list(runs.for_rows().newest_first()[:MOST_RUNS])


class Sheet:
    """One run's questions with their forms. `rows`: [(Question, form)] that are still to be answered."""

    def __init__(self, run, questions, request):
        self.run, self.kept, self.refused, self.silent = run, 0, [], False
        self.person = request.dyeing
        mine = request.POST.get("run") == run.code
        self.page = (number_of(request.POST.get("page")) if mine else None) or uuid4()
        self.rows = [(question, self.form(question)) for question in questions]

    def form(self, question, data=None):
        initial = {"id": uuid4(), "kind": "answer", "question": question.ask}
        batch = question.batches[0]
        made = AnswerForm(data, None, batch=batch, person=self.person, prefix=question.key, initial=initial)
        return made.asks(question)

    def take(self, request):
        """Log each answer by itself: good ones are kept, the others come back with what is to put right."""
        rows = []
        for question, form in self.rows:
            data = answer_data(request.POST, question, uuid5(self.page, question.key))
            if data is None:
                rows.append((question, form))
                continue
            person = request.who.named(request.POST.get("by"))
            answer = intake.take(data, {}, batch=question.batches[0], person=person, sent_by=request.user)
            if answer.ok:
                self.kept += 1
                continue
            shown = self.form(question, request.POST)
            shown._errors, shown.cleaned_data = answer.form.errors, {}
            if answer.sentence:
                shown.add_error(None, answer.sentence)
            self.refused.append(shown)
            rows.append((question, shown))
        self.silent = not self.kept and not self.refused
        self.rows = rows


def answer_data(post, question, sent):
    """What was said to one question, as the intake takes it; None where nothing was."""
    prefix = f"{question.key}-"
    if not any(post.get(f"{prefix}{name}", "").strip() for name in SAID_BY) and not _said_when(post, question):
        return None
    data = QueryDict(mutable=True)
    for name in post:
        if name.startswith(prefix):
            data.setlist(name.removeprefix(prefix), post.getlist(name))
    data["id"], data["kind"], data["question"] = str(sent), "answer", question.ask
    data.setlist("about", [str(entry.pk) for entry in question.about])
    data.setlist("lines", [str(line.pk) for line in question.lines])
    return data


def _said_when(post, question):
    """A time alone says something; beside a planned line it stands there already."""
    return question.ask != writeup.Ask.LINE and post.get(f"{question.key}-when", "").strip()
