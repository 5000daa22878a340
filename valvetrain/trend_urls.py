"""Addresses of the trends."""

from django.urls import path

from valvetrain.views import trends

urlpatterns = [
    path("jobs/<int:job_pk>/trends/", trends.job_trends, name="job-trends"),
    path(
        "jobs/<int:job_pk>/trends/<slug:key>/<str:address>.svg", trends.trend_picture, name="job-trend-chart"
    ),
]
