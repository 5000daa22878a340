"""Addresses of what an engine that came back really had."""

from django.urls import path

from valvetrain.views import as_found

urlpatterns = [
    path("jobs/<int:job_pk>/return/really-had/", as_found.return_geometry, name="return-geometry"),
    path("jobs/<int:job_pk>/return/really-had/<str:address>/", as_found.return_valve, name="return-valve"),
    path("jobs/<int:job_pk>/return/photos/", as_found.return_photos, name="return-photos"),
]
