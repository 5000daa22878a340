"""Every address of the book. Valvetrain adds its own."""

from django.contrib.auth import views as auth_views
from django.urls import include, path

from builds.forms.people import LogInForm
from builds.views import (
    customers,
    drawer,
    engines,
    guests,
    jobs,
    limits,
    log,
    me,
    parts,
    people,
    photos,
    print_runs,
    shop,
    tablets,
)
from builds.views.first_owner import LogIn, make_first_owner

urlpatterns = [
    path(
        "login/", LogIn.as_view(authentication_form=LogInForm, redirect_authenticated_user=True), name="login"
    ),
    path("logout/", auth_views.LogoutView.as_view(), name="logout"),
    path("first-owner/", make_first_owner, name="first-owner"),
    path("", jobs.job_list, name="job-list"),
    path("jobs/new/", jobs.job_new, name="job-new"),
    path("jobs/<int:pk>/", jobs.job_detail, name="job-detail"),
    path("jobs/<int:pk>/edit/", jobs.job_edit, name="job-edit"),
    path("jobs/<int:pk>/readings/", jobs.job_readings, name="job-readings"),
    path("jobs/<int:pk>/parts/new/", parts.part_new, name="part-new"),
    path("jobs/<int:pk>/parts/<int:part_pk>/edit/", parts.part_edit, name="part-edit"),
    path("jobs/<int:pk>/parts/<int:part_pk>/remove/", parts.part_remove, name="part-remove"),
    path("customers/", customers.customer_list, name="customer-list"),
    path("customers/new/", customers.customer_new, name="customer-new"),
    path("customers/<int:pk>/", customers.customer_detail, name="customer-detail"),
    path("customers/<int:pk>/edit/", customers.customer_edit, name="customer-edit"),
    path("customers/<int:pk>/engines/new/", engines.engine_new, name="engine-new"),
    path("engines/", engines.engine_list, name="engine-list"),
    path("engines/<int:pk>/", engines.engine_detail, name="engine-detail"),
    path("engines/<int:pk>/edit/", engines.engine_edit, name="engine-edit"),
    path("engines/<int:pk>/customer/", engines.engine_hand_over, name="engine-hand-over"),
    path("engines/<int:pk>/jobs/new/", jobs.job_open, name="job-open"),
    path("drawer/", drawer.drawer, name="drawer"),
    path("drawer/instruments/new/", drawer.instrument_new, name="instrument-new"),
    path("drawer/instruments/<int:pk>/edit/", drawer.instrument_edit, name="instrument-edit"),
    path("shop/", shop.shop, name="shop"),
    path("shop/edit/", shop.shop_edit, name="shop-edit"),
    path("shop/limits/<int:pk>/edit/", shop.limit_edit, name="limit-edit"),
    path("shop/verdicts/", shop.guard_band_edit, name="guard-band"),
    path("shop/uncertainties/<int:pk>/edit/", shop.usual_uncertainty_edit, name="usual-uncertainty-edit"),
    path("people/", people.person_list, name="person-list"),
    path("people/new/", people.person_new, name="person-new"),
    path("people/<int:pk>/edit/", people.person_edit, name="person-edit"),
    path("people/<int:pk>/password/", people.person_password, name="person-password"),
    path("people/<int:pk>/active/", people.person_active, name="person-active"),
    path("me/", me.me, name="me"),
    path("me/password/", me.password, name="password"),
    path("me/pin/", me.pin, name="pin"),
    path("tablets/", tablets.tablet_list, name="tablet-list"),
    path("tablets/enrol/", tablets.tablet_enrol, name="tablet-enrol"),
    path("tablets/<int:pk>/revoke/", tablets.tablet_revoke, name="tablet-revoke"),
    path("tablet/who/", tablets.tablet_who, name="tablet-who"),
    path("tablet/lock/", tablets.tablet_lock, name="tablet-lock"),
    path("tablet/touch/", tablets.tablet_touch, name="tablet-touch"),
    path("jobs/<int:job_pk>/links/", guests.job_links, name="job-links"),
    path("jobs/<int:job_pk>/links/new/", guests.job_link_new, name="job-link-new"),
    path("jobs/<int:job_pk>/links/<int:pk>/revoke/", guests.job_link_revoke, name="job-link-revoke"),
    path("guest/", guests.guest_job, name="guest-job"),
    path("guest/<str:token>/", guests.guest_enter, name="guest-enter"),
    path("guest/photos/<uuid:client_id>/<str:size>", guests.guest_photo, name="guest-photo"),
    path("jobs/<int:job_pk>/limits/", limits.job_limits, name="job-limits"),
    path("jobs/<int:job_pk>/limits/<slug:key>/", limits.job_limit, name="job-limit"),
    path("jobs/<int:job_pk>/limits/<slug:key>/clear/", limits.job_limit_clear, name="job-limit-clear"),
    path("jobs/<int:job_pk>/log/", log.log_overview, name="log"),
    path("jobs/<int:job_pk>/log/<slug:key>/", log.log_step, name="log-step"),
    path("jobs/<int:job_pk>/log/<slug:key>/readings/", log.log_reading, name="log-reading"),
    path("jobs/<int:job_pk>/log/<slug:key>/strike-out/", log.log_strike, name="log-strike"),
    path("printing/<uuid:run_id>/", print_runs.print_run, name="print-run"),
    path("printing/<uuid:run_id>/sheet.pdf", print_runs.print_run_file, name="print-run-file"),
    path("jobs/<int:job_pk>/photos/", photos.job_photos, name="job-photos"),
    path("jobs/<int:job_pk>/photos/new/", photos.photo_upload, name="photo-upload"),
    path("photos/<uuid:client_id>/", photos.photo, name="photo"),
    path("photos/<uuid:client_id>/file-again/", photos.photo_refile, name="photo-refile"),
    path("photos/<uuid:client_id>/<str:size>", photos.photo_file, name="photo-file"),
    path("", include("valvetrain.urls")),
]

handler400 = "builds.views.errors.bad_request"
handler403 = "builds.views.errors.forbidden"
handler404 = "builds.views.errors.not_found"
handler500 = "builds.views.errors.server_error"
