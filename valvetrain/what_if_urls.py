"""Addresses of the What if screen and of the trials that are kept."""

from django.urls import path

from valvetrain.views import what_if

urlpatterns = [
    path("jobs/<int:job_pk>/what-if/", what_if.what_if, name="what-if"),
    path("jobs/<int:job_pk>/what-if/arm/<str:side>.svg", what_if.what_if_drawing, name="what-if-drawing"),
    path("jobs/<int:job_pk>/what-if/trials/", what_if.trial_list, name="trial-list"),
    path("jobs/<int:job_pk>/what-if/trials/keep/", what_if.trial_keep, name="trial-keep"),
    path("jobs/<int:job_pk>/what-if/trials/<int:pk>/", what_if.trial, name="trial"),
    path("jobs/<int:job_pk>/what-if/trials/<int:pk>/drop/", what_if.trial_drop, name="trial-drop"),
]
