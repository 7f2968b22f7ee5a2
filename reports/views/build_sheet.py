"""The build sheet, on the screen and on paper."""

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from engines.models import Build
from reports.engine.build_sheet import build_sheet
from reports.reader import Reader, for_reader
from shop import access


@for_reader
@require_safe
def sheet(request: HttpRequest, reader: Reader, build_id: int) -> HttpResponseBase:
    rows = Build.objects.select_related("engine__engine_type", "type_revision__engine_type", "builder", "inspector")
    build = get_object_or_404(access.visible_to(reader.user, rows), pk=build_id)
    access.require(reader.user, "see_build_sheet")
    return render(request, "reports/build_sheet.html", {"page": build_sheet(reader, build)})
