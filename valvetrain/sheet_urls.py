"""Addresses of the drawings and the sheets of a head."""

from django.urls import path

from valvetrain.views import drawings, sheets

urlpatterns = [
    path("heads/<int:head_pk>/drawing/<int:valve_pk>/<str:which>.svg", drawings.drawing, name="drawing"),
    path("heads/<int:head_pk>/setup-sheet.pdf", sheets.setup_sheet_pdf, name="setup-sheet"),
]
