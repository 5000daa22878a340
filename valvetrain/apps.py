"""The upper floor: heads, stands, rockers, cam, shims, and the bench."""

from django.apps import AppConfig


class ValvetrainConfig(AppConfig):
    """Tells the ground floor what may be measured up here, where, and which jobs lack nothing."""

    name = "valvetrain"

    def ready(self) -> None:
        """Fill the registries of the ground floor."""
        from builds.comparing import compared_providers
        from builds.due import due_providers
        from builds.editions import watched_models  # models exist only now
        from builds.found import work_judges
        from builds.looks import carriers
        from builds.models import readiness_checks, sealed_checks
        from builds.panels import Panel, drawer_panels, job_panels, running_pages, survival_pictures
        from builds.photos.acts import job_photo_acts, photo_acts
        from builds.places import place_pickers
        from builds.positions import position_providers
        from builds.reading_notes import reading_notes
        from builds.return_panels import reads_as_found
        from valvetrain import (
            carrying,
            characteristics,
            due_trends,
            head_places,
            height_change,
            how_taken,
            mark_photos,
            steps,
            targets,
            work_done,
            worksheet_pairs,
        )
        from valvetrain.models import (
            CamCard,
            FittedPack,
            FittedPiece,
            Head,
            HeightGauge,
            Pad,
            RockerSet,
            ShimStock,
            SpringSheet,
            Stand,
            StandMove,
            Valve,
            heads,
        )
        from valvetrain.rights import register_rights
        from valvetrain.sheets.all_sealed import sealed_builds
        from valvetrain.sheets.kinds import register_sheets
        from valvetrain.sheets.links import photo_log_acts
        from valvetrain.traces import register_traces
        from valvetrain.trends import has_trends

        register_rights()
        register_traces()
        characteristics.register_all()
        steps.register_valvetrain_steps()
        worksheet_pairs.register_pairs()
        register_sheets()
        watched_models.extend(
            [CamCard, Head, HeightGauge, Pad, RockerSet, ShimStock, SpringSheet, Stand, StandMove, Valve]
        )
        # What is fitted on one engine is no longer in the drawer for another.
        watched_models.extend([FittedPack, FittedPiece])
        position_providers.append(heads.addresses_of)
        carriers.append(carrying.carry_valvetrain)
        place_pickers.insert(0, head_places.head_pickers)
        compared_providers.append(height_change.compared_heights)
        work_judges.append(work_done.after_work)
        due_providers.append(due_trends.due_by_trends)
        readiness_checks.append(targets.ready_builds)
        sealed_checks.append(sealed_builds)
        reading_notes.extend([how_taken.height_notes, how_taken.photo_notes])
        photo_acts.append(mark_photos.measuring_acts)
        job_photo_acts.append(photo_log_acts)
        beside = [panel.url_name for panel in job_panels].index("return-compare") + 1
        job_panels.insert(beside, Panel("What it really had", "return-geometry", reads_as_found))
        job_panels.append(Panel("Valvetrain", "valvetrain-panel"))
        job_panels.append(Panel("Trends", "job-trends", has_trends))
        running_pages.append(Panel("Trends", "job-trends", has_trends))
        survival_pictures.append(Panel("How long parts last", "survival-picture"))
        drawer_panels.extend(
            [
                Panel("Shims", "shim-list"),
                Panel("Height gauges", "gauge-list"),
                Panel("Head layouts", "layouts-panel"),
            ]
        )
