"""Take everything out."""

from django.http import FileResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from batches import export


@require_http_methods(["GET", "POST"])
def take_out(request):
    """What is inside, and a button that packs it."""
    if request.method == "GET":
        return render(request, "batches/take_out.html", {"here": "studio"})
    today = timezone.localdate()
    return FileResponse(export.write(request.studio, today), as_attachment=True, filename=f"clearbath-{today}.zip")
