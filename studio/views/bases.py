"""Bases: undyed yarns as sold."""

from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_http_methods, require_safe

from studio import fibres
from studio.forms.yarn import FIBRE_CHOICES, BaseForm, FibreFormSet, fibre_rows_of
from studio.models import Base, Lot, Studio
from studio.views.named import Page, named_page

FORM = "studio/shelf/base_form.html"


@require_safe
def base(request, pk):
    base = get_object_or_404(Base.objects.prefetch_related("fibres"), pk=pk)
    lots = Lot.objects.filter(base=base).with_on_hand().with_facts().select_related("base", "delivery")
    context = {"base": base, "lots": lots, "content": content_of(base), "here": "shelf"}
    return render(request, "studio/shelf/base.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def new(request):
    page = Page("Add a base", "Add it", "studio:base", template=FORM, context={"fibre_choices": FIBRE_CHOICES})
    return named_page(request, page, BaseForm, rows=FibreFormSet)


@require_http_methods(["GET", "HEAD", "POST"])
def edit(request, pk):
    base = get_object_or_404(Base.objects.prefetch_related("fibres"), pk=pk)
    page = Page(f"Change {base}", "Keep it", "studio:base", template=FORM, context={"fibre_choices": FIBRE_CHOICES})

    def rows(data):
        return FibreFormSet(data, initial=None if data else fibre_rows_of(base))

    return named_page(request, page, BaseForm, row=base, rows=rows)


def content_of(base):
    """What a tag would say of this base where the studio sells, or why it can't say it yet."""
    shares = base.shares()
    studio = Studio.get()
    content = {"market": studio.get_market_display(), "total": sum(share.percent for share in shares)}
    if not base.complete():
        return content | {"line": None}
    try:
        line = fibres.content_line(shares, studio.market)
    except ValueError as problem:
        return content | {"line": None, "problem": str(problem)}
    classes = [(fibres.DYE_CLASSES[key], fibres.dyeable_pct(shares, key)) for key in fibres.classes_for(shares)]
    return content | {"line": line, "classes": classes}
