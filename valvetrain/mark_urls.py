"""Addresses of the witness marks."""

from django.urls import path

from valvetrain.views import marks

urlpatterns = [
    path("bench/<int:head_pk>/marks/", marks.all_marks, name="head-marks"),
    path("bench/<int:head_pk>/marks/<str:address>/", marks.one_mark, name="valve-mark"),
    path("bench/<int:head_pk>/marks/<str:address>/slide/", marks.slide, name="valve-slide"),
]
