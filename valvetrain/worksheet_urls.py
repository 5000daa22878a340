"""Addresses of the worksheet."""

from django.urls import path

from valvetrain.views import lobe, worksheet

urlpatterns = [
    path("jobs/<int:job_pk>/worksheet/", worksheet.worksheet, name="worksheet"),
    path("jobs/<int:job_pk>/worksheet/pairs/", worksheet.worksheet_pair, name="worksheet-pair"),
    path(
        "jobs/<int:job_pk>/worksheet/pairs/<uuid:client_id>/strike/",
        worksheet.worksheet_pair_strike,
        name="worksheet-pair-strike",
    ),
    path("jobs/<int:job_pk>/worksheet/lobe/<str:kind>/", lobe.worksheet_lobe, name="worksheet-lobe"),
    path("jobs/<int:job_pk>/worksheet/table/<str:kind>/", lobe.worksheet_table, name="worksheet-table"),
    path("jobs/<int:job_pk>/worksheet/<slug:part>/new/", worksheet.worksheet_new, name="worksheet-new"),
    path(
        "jobs/<int:job_pk>/worksheet/<slug:part>/<int:pk>/edit/",
        worksheet.worksheet_edit,
        name="worksheet-edit",
    ),
]
