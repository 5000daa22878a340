"""Addresses of the charts, the drawings and the sheets of a head and of a job."""

from django.urls import path

from valvetrain.views import build_sheet, charts, drawings, photo_log, sheets

urlpatterns = [
    path("heads/<int:head_pk>/charts/", charts.charts, name="charts"),
    path("heads/<int:head_pk>/charts/<slug:which>.svg", charts.chart, name="chart"),
    path("heads/<int:head_pk>/drawing/<int:valve_pk>/<str:which>.svg", drawings.drawing, name="drawing"),
    path("heads/<int:head_pk>/setup-sheet.pdf", sheets.setup_sheet_pdf, name="setup-sheet"),
    path("jobs/<int:job_pk>/photo-log/", photo_log.photo_log, name="photo-log"),
    path("jobs/<int:job_pk>/build-sheet/", build_sheet.build_sheet, name="build-sheet"),
    path("jobs/<int:job_pk>/packet/", build_sheet.packet, name="packet"),
]
