"""Addresses of engines that came back."""

from django.urls import path

from builds.views import returns

urlpatterns = [
    path("returns/", returns.return_list, name="return-list"),
    path("returns/new/", returns.return_choose, name="return-choose"),
    path("jobs/<int:job_pk>/return/new/", returns.return_open, name="return-open"),
    path("jobs/<int:job_pk>/return/", returns.return_facts, name="return-facts"),
    path("jobs/<int:job_pk>/return/edit/", returns.return_edit, name="return-edit"),
    path("jobs/<int:job_pk>/return/compare/", returns.return_compare, name="return-compare"),
    path("jobs/<int:job_pk>/came-back/", returns.job_came_back, name="job-came-back"),
]
