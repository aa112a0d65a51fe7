"""What vulture takes for dead and is not, by the reason why; it reads this file as if everything here were used.

Fields of frozen results are read by `asdict`, by templates and by other programs through `--json`; those of rows, by
name from their file in `reference/data`. Each list says why its names stand.
"""

# Laws that tests work other laws out by, or hold printed tables against: an oracle is no use inside a test that it
# would then test itself.
from breakangle.fleet.charts import cusum_run_length, shewhart_run_length
from breakangle.physics.bridge.body_pull import first_order_pull_cents
from breakangle.physics.contact.screen import energy_reach
from breakangle.physics.string.intonation_limits import exact_error_cents, linear_error_cents
from breakangle.physics.string.laws import (
    axial_ratio_from_stretch,
    bend_cents,
    inharmonicity_ratio,
    round_bending_stiffness_n_mm2,
    stiff_partial_series,
    stretch_slope_ratio,
)

KNOWN_ORACLES = (
    axial_ratio_from_stretch, bend_cents, cusum_run_length, energy_reach, exact_error_cents, first_order_pull_cents,
    inharmonicity_ratio, linear_error_cents, round_bending_stiffness_n_mm2, shewhart_run_length, stiff_partial_series,
    stretch_slope_ratio,
)  # fmt: skip


class KNOWN_NAMES:  # noqa: N801
    """Names that are used where vulture does not look."""

    def known_to_dask(self) -> None:
        """What a worker's `preload` is called by."""
        _ = self.dask_setup

    def known_rows_of_tables(self) -> None:
        """Columns of `reference/data`, read by their names (`getattr(self, f"{strength}_mm")`, `_rows`)."""
        _ = self.light_mm, self.medium_mm, self.heavy_mm, self.light_mj, self.medium_mj, self.heavy_mj
        _ = self.density_sd_kg_per_m3, self.density_low_kg_per_m3, self.density_high_kg_per_m3
        _ = self.modulus_low_mpa, self.modulus_high_mpa, self.material, self.carries, self.pitch_mm
        _ = self.shape_source, self.strings_source, self.winds_plain, self.winds_wound, self.winds_nylon

    def known_fields_of_results(self) -> None:
        """What `--json`, the library or a template shows."""
        _ = self.intonation_strings, self.intonation_uncertainty_cents, self.height_uncertainty_mm, self.as_mm
        _ = self.as_inches, self.left_ratio, self.right_ratio, self.forward_if_left_mm, self.share_ratio
        _ = self.least_force_n, self.odd_ratio, self.inflation_ratio, self.off_percent, self.adjustment_count
        _ = (
            self.moisture_before_percent,
            self.moisture_after_percent,
            self.board_width_mm,
            self.likely_s,
            self.low_s,
        )
        _ = self.high_s, self.gain_mm, self.nut_short_mm, self.high_frets, self.likely_count, self.worst_cents
        _ = (
            self.pull_now_n,
            self.surprising,
            self.over_pitch_cents,
            self.mean_n,
            self.spread_ratio,
            self.steepest,
        )
        _ = (
            self.chance_inside_leaves,
            self.width_measured,
            self.loose_chance,
            self.sits_higher_mm,
            self.text_boxes,
        )
        _ = self.years_share, self.left_share, self.small_pt, self.with_next, self.from_fret, self.to_fret
        _ = self.plan_later, self.rod_least_mm

    def known_templates(self) -> None:
        """Properties that pages read."""
        _ = (
            self.applies,
            self.is_declined,
            self.names_crown,
            self.rod_reached_from,
            self.figure_rows,
            self.neighbours,
            self.reading_count,
        )

    def known_other_packages(self) -> None:
        """What numpy, SQLAlchemy, SQLite, the drawing format, the terminal and the server look for by name."""
        _ = (
            self.writeable,
            self.impl,
            self.cache_ok,
            self.process_bind_param,
            self.process_result_value,
            self.linetype,
        )
        _ = self.isolation_level, self.no_wrap, self.total_tokens, self.capture_signals, self.should_exit
        _ = self.failure, self.__traceback__, self.MOST_CROWNS, self.allowed_failures

    def known_types_alone(self) -> None:
        """Imports for a type checker."""
        _ = self.Modelspace, self.MeasuredPitch, self.TelemetryConfig, self.EllipticCurvePrivateKey

    def known_benchmarks(self) -> None:
        """Of `bench`: run in another process by its name, or shown."""
        _ = self.many_examples, self.mass_g_per_m, self.plane_clean, self.figures_read, self.drop_tables
        _ = self.STRENGTHS_MM, self.SECOND_SEASON_SEED, self.__call__
