"""Addresses of the upper floor."""

from django.urls import include, path

from valvetrain.views import cam, gauges, heads, layouts, panel, rockers, shims, springs, survival

urlpatterns = [
    path("jobs/<int:job_pk>/valvetrain/", panel.valvetrain_panel, name="valvetrain-panel"),
    path("jobs/<int:job_pk>/heads/new/", heads.head_new, name="head-new"),
    path("jobs/<int:job_pk>/rockers/new/", rockers.rocker_set_new, name="rocker-set-new"),
    path("jobs/<int:job_pk>/springs/new/", springs.spring_sheet_new, name="spring-sheet-new"),
    path("springs/<int:pk>/edit/", springs.spring_sheet_edit, name="spring-sheet-edit"),
    path("jobs/<int:job_pk>/cam/", cam.cam_card, name="cam-card"),
    path("rockers/<int:pk>/edit/", rockers.rocker_set_edit, name="rocker-set-edit"),
    path("heads/<int:pk>/", heads.head_detail, name="head-detail"),
    path("heads/<int:pk>/edit/", heads.head_edit, name="head-edit"),
    path("heads/<int:pk>/remove/", heads.head_remove, name="head-remove"),
    path("heads/<int:pk>/copy/", layouts.copy_to_shelf, name="copy-to-shelf"),
    path("heads/<int:pk>/valves/", heads.valves_edit, name="valves-edit"),
    path("heads/<int:pk>/stands/new/", heads.stand_new, name="stand-new"),
    path("heads/<int:pk>/stands/<int:stand_pk>/edit/", heads.stand_edit, name="stand-edit"),
    path("heads/<int:pk>/stands/<int:stand_pk>/remove/", heads.stand_remove, name="stand-remove"),
    path("drawer/layouts/", layouts.layout_list, name="layout-list"),
    path("drawer/layouts/new/", layouts.layout_new, name="layout-new"),
    path("drawer/layouts/panel/", layouts.layouts_panel, name="layouts-panel"),
    path("drawer/gauges/", gauges.gauge_list, name="gauge-list"),
    path("drawer/gauges/new/", gauges.gauge_new, name="gauge-new"),
    path("drawer/gauges/<int:pk>/edit/", gauges.gauge_edit, name="gauge-edit"),
    path("drawer/shims/", shims.shim_list, name="shim-list"),
    path("drawer/shims/new/", shims.shim_new, name="shim-new"),
    path("drawer/shims/<int:pk>/edit/", shims.shim_edit, name="shim-edit"),
    path("returns/parts/last/curve.svg", survival.survival_picture, name="survival-picture"),
    path("", include("valvetrain.pack_urls")),
    path("", include("valvetrain.bench_urls")),
    path("", include("valvetrain.what_if_urls")),
    path("", include("valvetrain.worksheet_urls")),
    path("", include("valvetrain.return_urls")),
    path("", include("valvetrain.trend_urls")),
]
