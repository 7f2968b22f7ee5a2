"""Addresses of the shop's own pages, and of the engine page that owners share."""

from django.urls import path

from reports.views import (
    board,
    build_sheet,
    calls,
    close_out_files,
    due,
    engine,
    exposure,
    findings,
    home,
    lots,
    notices,
    people,
    priors,
    rules,
    today,
)

urlpatterns = [
    path("", home.home, name="home"),
    path("board/", board.fleet_board, name="board"),
    path("today/", today.today_list, name="today"),
    path("engines/<int:engine_id>/", engine.engine, name="engine"),
    path("engines/<int:engine_id>/oil.svg", engine.oil_picture, name="oil_picture"),
    path("builds/<int:build_id>/sheet/", build_sheet.sheet, name="build_sheet"),
    path("close-outs/check/", close_out_files.close_out_check, name="close_out_check"),
    path("close-outs/<int:file_id>/", close_out_files.close_out_file, name="close_out_file"),
    path("close-outs/<int:file_id>/document.json", close_out_files.close_out_document, name="close_out_document"),
    path("close-outs/<int:file_id>/print.pdf", close_out_files.close_out_print, name="close_out_print"),
    path("findings/<int:finding_id>/acknowledge/", findings.finding_acknowledge, name="finding_acknowledge"),
    path("findings/<int:finding_id>/clear/", findings.finding_clear, name="finding_clear"),
    path("due/<int:due_id>/complete/", due.due_complete, name="due_complete"),
    path("aircraft/<int:aircraft_id>/call/", calls.aircraft_call, name="aircraft_call"),
    path("notices/", notices.notices, name="notices"),
    path("notices/<int:notice_id>/bounced/", notices.notice_bounced, name="notice_bounced"),
    path("notices/<int:notice_id>/held/", notices.notice_held, name="notice_held"),
    path("priors/", priors.priors, name="priors"),
    path("priors/adopt/", priors.prior_adopt, name="prior_adopt"),
    path("exposure/", exposure.exposure, name="exposure"),
    path("lots/", lots.lots, name="lots"),
    path("rules/", rules.rules, name="rules"),
    path("people/", people.people_list, name="people"),
    path("people/invite/", people.invite_person, name="invite"),
]
