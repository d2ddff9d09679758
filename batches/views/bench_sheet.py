"""The bench sheet of a run, as a PDF."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from batches.bench_sheet import draw, sheet_of
from batches.views.run import the_run
from studio import printing


@never_cache
@require_safe
def bench_sheet(request, code):
    """Of the plan as it is now: where pots still to come were planned anew, those."""
    the = the_run(code)
    try:
        pdf = draw(sheet_of(the), request.studio.paper)
    except printing.PrinterMissing as problem:
        return render(request, "batches/no_printer.html", {"problem": str(problem)}, status=503)
    except printing.TooMuchToPrint as problem:
        messages.error(request, str(problem))
        return redirect("batches:run", code)
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="bench-{the.code}.pdf"'
    return answer
