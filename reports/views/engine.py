"""The page of one engine."""

from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from engines.models import Engine
from reports.acts.links import engine_acts
from reports.engine_page import engine_page
from reports.reader import Reader, for_reader
from shop import access


@for_reader
@require_safe
def engine(request: HttpRequest, reader: Reader, engine_id: int) -> HttpResponseBase:
    """Staff and whoever holds, or held, the aircraft it sits in. `?build=` asks for an older build."""
    seen = access.visible_to(reader.user, Engine.objects.select_related("engine_type"))
    found = get_object_or_404(seen, pk=engine_id)
    asked = request.GET.get("build", "")
    if asked and not (asked.isascii() and asked.isdigit() and len(asked) < 19):
        raise Http404("No such build.")
    page = engine_page(
        reader,
        found,
        timezone.now(),
        build_id=int(asked) if asked else None,
        every_entry=request.GET.get("timeline") == "all",
    )
    if page is None:
        raise Http404("No such build of this engine.")
    base = "base_shop.html" if reader.staff else "base_portal.html"
    context = {"page": page, "reader": reader, "base": base, "acts": engine_acts(reader, page)}
    return render(request, "reports/engine.html", context)
