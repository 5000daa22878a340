"""Addresses of parts that come out, are traced, recalled, and counted by how long they last."""

from django.urls import path

from builds.views import parts, recalls, survival, tracing

PART = "jobs/<int:pk>/parts/<int:part_pk>/"

urlpatterns = [
    path(f"{PART}out/", parts.part_out, name="part-out"),
    path(f"{PART}out/<int:out_pk>/undo/", parts.part_out_undo, name="part-out-undo"),
    path("engines/<int:pk>/parts/", parts.engine_parts, name="engine-parts"),
    path("returns/parts/", tracing.part_trace, name="part-trace"),
    path("returns/parts/last/", survival.part_survival, name="part-survival"),
    path("returns/recalls/", recalls.recall_list, name="recall-list"),
    path("returns/recalls/new/", recalls.recall_begin, name="recall-begin"),
    path("returns/recalls/<int:pk>/", recalls.recall, name="recall"),
    path("returns/recalls/<int:pk>/edit/", recalls.recall_edit, name="recall-edit"),
    path("returns/recalls/<int:pk>/add/", recalls.recall_add, name="recall-add"),
    path("returns/recalls/<int:pk>/engines/<int:engine_pk>/mark/", recalls.recall_mark, name="recall-mark"),
    path(
        "returns/recalls/<int:pk>/marks/<int:mark_pk>/strike-out/",
        recalls.recall_strike,
        name="recall-strike",
    ),
    path("returns/recalls/<int:pk>/close/", recalls.recall_close, name="recall-close"),
    path("returns/recalls/<int:pk>/reopen/", recalls.recall_reopen, name="recall-reopen"),
    path("returns/recalls/<int:pk>/letters.pdf", recalls.recall_letters_pdf, name="recall-letters"),
    path(
        "returns/recalls/<int:pk>/letters/<int:customer_pk>.pdf",
        recalls.recall_letter_pdf,
        name="recall-letter",
    ),
]
