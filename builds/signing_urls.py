"""Addresses of the sheets of a job: put up, accepted, signed, sealed."""

from django.urls import path

from builds.views import sealed, signing, verify

SHEET = "jobs/<int:job_pk>/sheets/<slug:kind>/<slug:subject>/"

urlpatterns = [
    path("jobs/<int:job_pk>/sheets/", signing.job_sheets, name="job-sheets"),
    path(SHEET, signing.sheet_ready, name="sheet-ready"),
    path(f"{SHEET}draft/", signing.sheet_draft, name="sheet-draft"),
    path(f"{SHEET}begin/", signing.sheet_begin, name="sheet-begin"),
    path(f"{SHEET}sign/", signing.sheet_sign, name="sheet-sign"),
    path(f"{SHEET}check/", signing.sheet_check, name="sheet-check"),
    path(f"{SHEET}seal/", signing.sheet_seal, name="sheet-seal"),
    path(f"{SHEET}accept/", signing.accept_out, name="accept-out"),
    path(f"{SHEET}accept-tools/", signing.accept_overdue, name="accept-overdue"),
    path("sheets/<int:number>/", sealed.sealed_sheet, name="sealed-sheet"),
    path("sheets/<int:number>/check/", sealed.sealed_check, name="sealed-check"),
    path("sheets/<int:number>/pdf/", sealed.sealed_pdf, name="sealed-pdf"),
    path("shop/verify/", verify.verify_page, name="verify-page"),
    path("guest/sheets/<int:number>/pdf/", sealed.guest_sheet, name="guest-sheet"),
]
