"""Bring a shop's engines into the book from a table: send it, read what would happen, let it happen."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from breakin.entries import fleet_sheet
from breakin.entries.fleet_sheet import COLUMNS, SheetRow, as_csv, read_table
from breakin.services.importing import Imported, import_fleet
from reports.acts.base import NOBODY
from reports.reader import Reader, for_reader
from shop import access
from shop.errors import Refusal
from shop.forms import BookForm

SHOWN = 200
PREVIEWED = "previewed"


class TableForm(BookForm):
    table = forms.FileField(
        label="Table",
        help_text="CSV or XLSX, one line for each engine in break-in.",
        error_messages={"required": "Choose the table first.", "empty": "This file is empty. Choose the table."},
    )


@for_reader
@require_http_methods(["GET", "HEAD", "POST"])
def import_table(request: HttpRequest, reader: Reader) -> HttpResponse:
    """The first post previews a file; the second one, with the previewed lines, keeps them."""
    access.require(reader.user, "import_fleet")
    if request.method != "POST":
        return _page(request, TableForm())
    confirmed = request.POST.get(PREVIEWED, "")
    form = TableForm() if confirmed else TableForm(request.POST, request.FILES)
    if reader.person is None:
        return _page(request, form, problems=[str(NOBODY)])
    try:
        rows = _lines(confirmed, form)
        if rows is None:
            return _page(request, form)
        found = import_fleet(by=reader.person, rows=rows, now=timezone.now(), keep=bool(confirmed))
    except Refusal as refusal:
        return _page(request, form, problems=[each.message for each in refusal.problems])
    if found.kept:
        messages.success(request, f"{len(found.rows)} lines are in the book.")
        return redirect("board")
    return _page(request, TableForm(), found=found, previewed=as_csv(rows))


def _lines(confirmed: str, form: TableForm) -> list[SheetRow] | None:
    if confirmed:
        return read_table("the previewed table", confirmed.encode())
    if not form.is_valid():
        return None
    upload = form.cleaned_data["table"]
    if upload.size > fleet_sheet.MOST_BYTES:
        raise Refusal.of("table", f"“{upload.name}” is larger than {fleet_sheet.MOST_BYTES // 1024 // 1024} MB.")
    return read_table(upload.name, upload.read())


def _page(
    request: HttpRequest,
    form: TableForm,
    *,
    problems: list[str] | None = None,
    found: Imported | None = None,
    previewed: str = "",
) -> HttpResponse:
    faulty = bool(problems or form.errors or (found and found.faulty))
    rows = sorted(found.rows, key=lambda row: not row.problems)[:SHOWN] if found else []
    context = {
        "form": form, "problems": problems or [], "found": found, "rows": rows, "previewed": previewed,
        "columns": COLUMNS, "field": PREVIEWED,
    }  # fmt: skip
    return render(request, "reports/acts/import.html", context, status=422 if faulty else 200)


@for_reader
@require_safe
def empty_table(request: HttpRequest, reader: Reader) -> HttpResponse:
    access.require(reader.user, "import_fleet")
    answer = HttpResponse(fleet_sheet.empty_table(), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="engines.csv"'
    return answer
