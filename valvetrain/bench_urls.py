"""Addresses of the bench, and of its drawings and sheets."""

from django.urls import include, path

from valvetrain.views import bench, budgets

urlpatterns = [
    path("bench/<int:head_pk>/", bench.bench, name="bench"),
    path("bench/<int:head_pk>/at/<str:address>", bench.bench_at, name="bench-at"),
    path("bench/<int:head_pk>/readings/", bench.save_reading, name="bench-reading"),
    path("bench/<int:head_pk>/stands/<int:stand_pk>/pack/", bench.save_pack, name="bench-pack"),
    path("bench/<int:head_pk>/strike-out/", bench.strike, name="bench-strike"),
    path("bench/<int:head_pk>/settings/", bench.choose_way, name="bench-way"),
    path("bench/<int:head_pk>/budget/<int:valve_pk>/", budgets.height_budget, name="height-budget"),
    path("", include("valvetrain.mark_urls")),
    path("", include("valvetrain.mark_photo_urls")),
    path("", include("valvetrain.sheet_urls")),
]
