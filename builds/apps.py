"""The ground floor: the shop, its people, and one job file for each build of an engine."""

from typing import Any

from django.apps import AppConfig
from django.contrib.auth.signals import user_logged_in
from django.db import connection
from django.db.models.signals import post_migrate


def _put_triggers_back(**kwargs: Any) -> None:
    from builds import appendonly, editions  # the models are ready only now

    appendonly.install()
    editions.install()


def _is_there(model: Any) -> bool:
    """Whether the tables of a model and its history are in the database, which may be of an earlier version."""
    return {model._meta.db_table, model.history.model._meta.db_table} <= set(
        connection.introspection.table_names()
    )


def _add_default_limits(**kwargs: Any) -> None:
    from builds.models import Limit  # the models are ready only now

    if _is_there(Limit):
        Limit.add_defaults()


def _add_usual_uncertainties(**kwargs: Any) -> None:
    from builds.models import UsualUncertainty  # the models are ready only now

    if _is_there(UsualUncertainty):
        UsualUncertainty.add_defaults()


def _add_default_symptoms(**kwargs: Any) -> None:
    from builds import symptoms  # the models are ready only now
    from builds.models import CausePrompt, Symptom

    if _is_there(Symptom) and _is_there(CausePrompt):
        symptoms.add_defaults()


def _add_check_rules(**kwargs: Any) -> None:
    from builds.models import CheckRule  # the models are ready only now

    if _is_there(CheckRule):
        CheckRule.add_defaults()


class BuildsConfig(AppConfig):
    """Puts the append-only triggers back, and the default limits in, after every migrate."""

    name = "builds"

    def ready(self) -> None:
        """Connect the signals. The triggers without a sender, so that an app migrated later is covered too."""
        from builds.editions import watched_models  # the models are ready only now
        from builds.finding_panels import register_findings
        from builds.models import Build, Customer, Engine, Instrument, Limit, Shop, UsualUncertainty
        from builds.panels import Panel, job_panels, return_pages
        from builds.part_panels import register_part_pages
        from builds.return_panels import register_return_pages
        from builds.sealing.panels import register_panels
        from builds.shortblock import register_short_block
        from builds.sitting import note_log_in
        from builds.traces import register_traces

        watched_models.extend([Build, Customer, Engine, Instrument, Limit, Shop, UsualUncertainty])
        register_short_block()
        register_traces()
        job_panels.append(Panel("Running", "job-running", shown=lambda job: job.keeps_running))
        job_panels.extend([Panel("Set-up log", "log"), Panel("Photos", "job-photos")])
        register_return_pages()
        return_pages.append(Panel("Due", "due-list"))
        register_part_pages()
        register_findings()
        register_panels()
        user_logged_in.connect(note_log_in, dispatch_uid="builds.sitting")
        post_migrate.connect(_put_triggers_back, dispatch_uid="builds.appendonly")
        post_migrate.connect(_add_default_limits, sender=self, dispatch_uid="builds.limits")
        post_migrate.connect(_add_usual_uncertainties, sender=self, dispatch_uid="builds.uncertainties")
        post_migrate.connect(_add_check_rules, sender=self, dispatch_uid="builds.check_rules")
        post_migrate.connect(_add_default_symptoms, sender=self, dispatch_uid="builds.symptoms")
