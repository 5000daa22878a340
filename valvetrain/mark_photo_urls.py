"""Addresses of measuring a witness mark on its photo."""

from django.urls import path

from valvetrain.views import mark_photos

ON_A_PHOTO = "bench/<int:head_pk>/marks/<str:address>/photos/<uuid:photo_id>/"

urlpatterns = [
    path(ON_A_PHOTO, mark_photos.measure_mark, name="measure-mark"),
    path(f"{ON_A_PHOTO}figures/", mark_photos.work, name="measure-mark-work"),
    path(f"{ON_A_PHOTO}guess/", mark_photos.guess, name="measure-mark-guess"),
    path(f"{ON_A_PHOTO}save/", mark_photos.save, name="measure-mark-save"),
]
