"""The page of one engine, and its oil picture for print."""

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.cache import get_conditional_response, patch_cache_control
from django.views.decorators.http import require_safe

from engines.models import Engine
from reports.acts.links import engine_acts
from reports.delivery.page import delivery_line
from reports.engine.page import engine_page
from reports.oil.still_page import still_picture
from reports.reader import Reader, for_reader
from shop import access
from shop.language import in_english


@for_reader
@in_english
@require_safe
def engine(request: HttpRequest, reader: Reader, engine_id: int) -> HttpResponseBase:
    """Staff and whoever holds, or held, the aircraft it sits in. `?build=` asks for an older build."""
    seen = access.visible_to(reader.user, Engine.objects.select_related("engine_type"))
    found = get_object_or_404(seen, pk=engine_id)
    page = engine_page(
        reader,
        found,
        timezone.now(),
        build_id=_asked_build(request),
        every_entry=request.GET.get("timeline") == "all",
    )
    if page is None:
        raise Http404("No such build of this engine.")
    base = "base_shop.html" if reader.staff else "base_portal.html"
    context = {"page": page, "reader": reader, "base": base, "acts": engine_acts(reader, page)}
    seat = next((row for row in reversed(page.installations) if row.until is None), None)
    context["delivery"] = delivery_line(seat.aircraft, page.assessment, reader) if seat else None
    return render(request, "reports/engine.html", context)


def _asked_build(request: HttpRequest) -> int | None:
    asked = request.GET.get("build", "")
    if asked and not (asked.isascii() and asked.isdigit() and len(asked) < 19):
        raise Http404("No such build.")
    return int(asked) if asked else None


@for_reader
@require_safe
def oil_picture(request: HttpRequest, reader: Reader, engine_id: int) -> HttpResponseBase:
    """The oil picture as a vector, for print and for readers without script. The browser asks each time whether it is
    still the one it has, since a reader's sight of an engine may end."""
    found = get_object_or_404(access.visible_to(reader.user, Engine.objects.all()), pk=engine_id)
    narrow = request.GET.get("narrow", "")
    if narrow not in ("", "1"):
        raise Http404("No such size.")
    picture = still_picture(reader, found, _asked_build(request), narrow=bool(narrow))
    if picture is None:
        raise Http404("No judgement of this engine to be seen.")
    answer: HttpResponse | None = get_conditional_response(request, etag=picture.etag)
    if answer is None or answer.status_code != 304:
        drawn = picture.svg()
        if drawn is None:
            raise Http404("No oil level has been read.")
        answer = HttpResponse(drawn, content_type="image/svg+xml")
    answer["ETag"] = picture.etag
    patch_cache_control(answer, private=True, no_cache=True)
    return answer
