"""Addresses of the packs for an engine."""

from django.urls import path

from valvetrain.views import fitted, packs

urlpatterns = [
    path("jobs/<int:job_pk>/packs/", packs.engine_packs, name="engine-packs"),
    path("jobs/<int:job_pk>/packs/fitted/", fitted.fitted_packs, name="fitted-packs"),
    path("jobs/<int:job_pk>/packs/<int:stand_pk>/fit/", packs.engine_pack_fit, name="engine-pack-fit"),
]
