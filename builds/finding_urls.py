"""Addresses of findings, of the lists to look through, and of an engine's time line."""

from django.urls import path

from builds.views import evidence, findings, symptoms, timeline

urlpatterns = [
    path("jobs/<int:job_pk>/findings/", findings.finding_list, name="finding-list"),
    path("jobs/<int:job_pk>/findings/new/", findings.finding_new, name="finding-new"),
    path("findings/<int:pk>/", findings.finding_page, name="finding"),
    path("findings/<int:pk>/edit/", findings.finding_edit, name="finding-edit"),
    path("findings/<int:pk>/take-back/", findings.finding_take_back, name="finding-take-back"),
    path("findings/<int:pk>/look/", findings.finding_look, name="finding-look"),
    path("findings/<int:pk>/photos/", evidence.finding_photos, name="finding-photos"),
    path("findings/<int:pk>/photos/remove/", evidence.finding_photo_remove, name="finding-photo-remove"),
    path("findings/<int:pk>/choose/<slug:kind>/", evidence.finding_choose, name="finding-choose"),
    path("findings/<int:pk>/evidence/new/", evidence.evidence_new, name="finding-evidence-new"),
    path(
        "findings/<int:pk>/evidence/<int:evidence_pk>/remove/",
        evidence.evidence_remove,
        name="finding-evidence-remove",
    ),
    path("shop/symptoms/", symptoms.symptom_list, name="symptom-list"),
    path("shop/symptoms/new/", symptoms.symptom_new, name="symptom-new"),
    path("shop/symptoms/<int:pk>/", symptoms.symptom_page, name="symptom"),
    path("shop/symptoms/<int:pk>/edit/", symptoms.symptom_edit, name="symptom-edit"),
    path("shop/symptoms/<int:pk>/move/", symptoms.symptom_move, name="symptom-move"),
    path("shop/symptoms/<int:pk>/prompts/new/", symptoms.prompt_new, name="symptom-prompt-new"),
    path("shop/prompts/<int:pk>/edit/", symptoms.prompt_edit, name="prompt-edit"),
    path("shop/prompts/<int:pk>/move/", symptoms.prompt_move, name="prompt-move"),
    path("engines/<int:pk>/life/", timeline.engine_timeline, name="engine-timeline"),
]
