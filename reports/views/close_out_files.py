"""Sealed close-out files: look at one, take it along, and ask whether one in hand is sealed here."""

from __future__ import annotations

from django import forms
from django.http import FileResponse, HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.utils.cache import patch_cache_control
from django.views.decorators.http import require_http_methods, require_safe

from breakin.models import CloseOutFile
from reports.closeout.files import LARGEST, changed_since, digest_in, digest_of, files_of, look_up
from reports.reader import Reader, for_reader
from shop.forms import BookForm
from shop.language import in_english


class CheckForm(BookForm):
    """A file, or the sum of one."""

    upload = forms.FileField(
        label="The file, print or document", required=False, help_text="It is looked at and not kept.",
    )  # fmt: skip
    pasted = forms.CharField(
        label="Or its SHA-256", required=False, max_length=200, help_text="64 characters, 0 to 9 and a to f."
    )

    def clean(self) -> dict[str, object]:
        typed = super().clean() or {}
        upload, pasted = typed.get("upload"), str(typed.get("pasted") or "")
        self.digest = ""
        if upload and pasted:
            self.add_error("pasted", "Give the file or its sum, not both.")
        elif upload and upload.size > LARGEST:
            self.add_error("upload", f"This file is larger than {LARGEST // 1_000_000} MB: no close-out file is.")
        elif upload:
            self.digest = digest_of(upload)
        elif pasted:
            self.digest = digest_in(pasted)
            if not self.digest:
                self.add_error("pasted", "This is not a SHA-256: 64 characters, 0 to 9 and a to f. Copy all of it.")
        elif not self.errors:
            self.add_error("upload", "Choose a file, or paste its SHA-256 below.")
        return typed


@for_reader
@in_english
@require_safe
def close_out_file(request: HttpRequest, reader: Reader, file_id: int) -> HttpResponseBase:
    """One sealed file: what it is, by whom, its sums, and its two parts to take along."""
    file = get_object_or_404(files_of(reader), pk=file_id)
    others = files_of(reader).filter(build=file.build).exclude(pk=file.pk)
    base = "base_shop.html" if reader.staff else "base_portal.html"
    context = {"file": file, "others": others, "base": base, "changed": changed_since(reader, file)}
    return render(request, "reports/closeout/file.html", context)


@for_reader
@in_english
@require_safe
def close_out_document(request: HttpRequest, reader: Reader, file_id: int) -> HttpResponseBase:
    file = get_object_or_404(files_of(reader), pk=file_id)
    return sealed_bytes(file, "document")


@for_reader
@in_english
@require_safe
def close_out_print(request: HttpRequest, reader: Reader, file_id: int) -> HttpResponseBase:
    file = get_object_or_404(files_of(reader), pk=file_id)
    return sealed_bytes(file, "print")


def sealed_bytes(file: CloseOutFile, part: str) -> FileResponse:
    """One part, byte for byte as it was sealed."""
    held, kind, ending = (
        (file.document, "application/json", "json") if part == "document" else (file.print, "application/pdf", "pdf")
    )
    name = f"close-out-{file.build.engine.serial}-{file.build.number}-{file.number}.{ending}"
    answer = FileResponse(held.open("rb"), as_attachment=True, filename=name, content_type=kind)
    patch_cache_control(answer, private=True, no_store=True)
    return answer


@for_reader
@in_english
@require_http_methods(["GET", "HEAD", "POST"])
def close_out_check(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    """Is the file in hand the sealed one? Nothing of it is kept."""
    form = CheckForm(request.POST, request.FILES) if request.method == "POST" else CheckForm()
    found = look_up(reader, form.digest) if form.is_bound and form.is_valid() else None
    base = "base_shop.html" if reader.staff else "base_portal.html"
    context = {"form": form, "found": found, "base": base}
    return render(request, "reports/closeout/check.html", context, status=422 if form.errors else 200)
