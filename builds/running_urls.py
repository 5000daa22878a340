"""Addresses of the running record, the checks between rebuilds, and what is told from the track."""

from django.urls import path

from builds.views import checks, running, told, track

urlpatterns = [
    path("jobs/<int:job_pk>/running/", running.job_running, name="job-running"),
    path("jobs/<int:job_pk>/running/<uuid:client_id>/correct/", running.run_correct, name="run-correct"),
    path("jobs/<int:job_pk>/running/<uuid:client_id>/strike-out/", running.run_strike, name="run-strike"),
    path("jobs/<int:job_pk>/checks/", checks.job_checks, name="job-checks"),
    path("jobs/<int:job_pk>/checks/new/", checks.check_open, name="check-open"),
    path("jobs/<int:job_pk>/check/done/", checks.check_done, name="check-done"),
    path("jobs/<int:job_pk>/check/again/", checks.check_again, name="check-again"),
    path("jobs/<int:job_pk>/told/", told.job_told, name="job-told"),
    path("jobs/<int:job_pk>/told/<uuid:client_id>/take-over/", told.told_take, name="told-take"),
    path("jobs/<int:job_pk>/told/<uuid:client_id>/leave/", told.told_leave, name="told-leave"),
    path("guest/track/running/", track.guest_run, name="guest-run"),
    path("guest/track/readings/", track.guest_told, name="guest-told"),
]
