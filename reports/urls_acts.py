"""Addresses of what the shop does: builds, plans, seats."""

from django.urls import path

from reports.views import acts, acts_merging, acts_seats, acts_templates, acts_types, closing, delivery, importing

urlpatterns = [
    path("shop/", acts.acts, name="acts"),
    path("shop/types/", acts_types.engine_types, name="engine_types"),
    path("shop/types/new/", acts_types.type_new, name="type_new"),
    path("shop/types/<int:type_id>/", acts_types.engine_type, name="engine_type"),
    path("shop/types/<int:type_id>/revise/", acts_types.type_revise, name="type_revise"),
    path("shop/templates/", acts_templates.templates, name="templates"),
    path("shop/templates/take/", acts_templates.templates_take, name="templates_take"),
    path("shop/templates/<int:template_id>/", acts_templates.template, name="template"),
    path("shop/templates/<int:template_id>/copy/", acts_templates.template_copy, name="template_copy"),
    path("shop/templates/<int:template_id>/revise/", acts_templates.template_revise, name="template_revise"),
    path("shop/import/", importing.import_table, name="import_table"),
    path("shop/import/table.csv", importing.empty_table, name="import_empty_table"),
    path("shop/builds/new/", acts.build_new, name="build_new"),
    path("shop/builds/<int:build_id>/plan/", acts.plan_issue, name="plan_issue"),
    path("shop/builds/<int:build_id>/cell/", acts.build_cell, name="build_cell"),
    path("shop/builds/<int:build_id>/preserve/", acts.build_preserve, name="build_preserve"),
    path("shop/builds/<int:build_id>/close/", closing.build_close, name="build_close"),
    path("shop/builds/<int:build_id>/close/waive/<slug:criterion>/", closing.criterion_waive, name="criterion_waive"),
    path("shop/builds/<int:build_id>/close/file/", closing.close_out_sign, name="close_out_sign"),
    path("shop/builds/<int:build_id>/close/return/", closing.proposal_return, name="proposal_return"),
    path("shop/builds/<int:build_id>/close/incomplete/", closing.build_give_up, name="build_give_up"),
    path("shop/builds/<int:build_id>/reopen/", closing.build_reopen, name="build_reopen"),
    path("shop/engines/<int:engine_id>/install/", acts_seats.engine_install, name="engine_install"),
    path("shop/engines/<int:engine_id>/installation/", acts_seats.engine_revise, name="engine_revise"),
    path("shop/engines/<int:engine_id>/remove/", acts_seats.engine_remove, name="engine_remove"),
    path("shop/aircraft/<int:aircraft_id>/swap/", acts_seats.aircraft_swap, name="aircraft_swap"),
    path("shop/aircraft/<int:aircraft_id>/transfer/", acts_seats.aircraft_transfer, name="aircraft_transfer"),
    path("shop/aircraft/<int:aircraft_id>/meter/", acts_seats.meter_change, name="meter_change"),
    path("shop/aircraft/<int:aircraft_id>/delivery/", delivery.delivery, name="delivery"),
    path("shop/aircraft/<int:aircraft_id>/merge/", acts_merging.flights_merge, name="flights_merge"),
]
