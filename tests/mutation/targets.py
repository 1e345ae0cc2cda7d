"""The modules whose changes are tried, and the tests that are to see them."""

from __future__ import annotations

from dataclasses import dataclass

SAME = "test_engine_mutants::test_the_right_answer_shows_no_difference"
LEVELS = "test_engine_levels::test_levels_and_grades"
PRUNING = "test_engine_levels::test_pruning_loses_nothing"
READING = ("test_description", "test_receiver_damages")


@dataclass(frozen=True)
class Target:
    """A module and its tests: some of seconds, and those for what they let pass."""

    quick: tuple[str, ...]
    wide: tuple[str, ...]


_ENGINE = {
    "rows": Target(("test_rows",), ("test_join", "test_grades", "test_converter_candidates")),
    "schema": Target(READING, ("test_schema", "test_receiver_file", "test_receiver_schema", "test_cures")),
    "schema_faults": Target(READING, ("test_receiver_file",)),
    "units": Target(("test_units",), ("test_receiver_file", "test_bands", "test_cli_words")),
    "responses/join": Target(("test_join",), ("test_engine_mutants", "test_engine_brute_force")),
    "responses/lines": Target(("test_lines",), (SAME, PRUNING, "test_engine_brute_force")),
    "receiver/selectivity": Target(("test_selectivity",), ("test_against_scipy", LEVELS)),
    "receiver/mixers": Target(("test_against_published_mixer_tables", "test_mixers"), (LEVELS, PRUNING)),
    "responses/levels": Target(("test_levels",), ("test_level_properties", LEVELS, PRUNING)),
    "responses/grades": Target(("test_grades",), ("test_level_properties", "test_engine_levels")),
    "responses/curves": Target(("test_grades",), ("test_level_properties", "test_engine_levels")),
}

_CURES = Target(
    ("test_cure_findings", "test_cures"), ("test_recommendation", "test_situations", "test_cure_properties")
)
_IF_CHANGE = Target(
    ("test_if_change_costs", "test_if_change"),
    ("test_if_change_gain", "test_nearby_if", "test_recommendation"),
)
_IF_CHOICE = Target(("test_if_change_choice", "test_if_change_costs"), _IF_CHANGE.quick + _IF_CHANGE.wide)
_CONVERTER = Target(
    ("test_converter_order", "test_converter_candidates"),
    ("test_converter_worked", "test_converter_clear_share", "test_converter_cli"),
)
_BY_HAND = Target(("test_bench_by_hand",), ("test_image_readings", "test_readings", "test_bench_sheet"))
_DIALS = Target(("test_dial_settings", "test_bench_by_hand"), ("test_readings", "test_bench_sheet"))
_BENCH = Target(
    ("test_bench_sheet", "test_readings"),
    ("test_readings_fitting", "test_image_readings", "test_readings_outputs"),
)
_SUSPECTS = Target(("test_suspects_by_hand", "test_suspects"), ("test_suspects_log", "test_where_it_belongs"))
_HEARD = Target(
    ("test_listening_by_hand",),
    ("test_usable_share", "test_judgement_properties", "test_arrivals_brute_force"),
)
_LISTENING = Target(
    ("test_usable_share", "test_weak_image"), ("test_judgement_properties", "test_arrivals_brute_force")
)
_OPTIONS = Target(("test_handed_on", "test_cli_words"), ("test_every_option", "test_cli"))
_ONE_COMMAND = Target(("test_handed_on",), ("test_every_option", "test_cli"))
_SHOWN = Target(("test_reporting_text",), ("test_cli", "test_recommendation"))

TARGETS = _ENGINE | {
    "planning/decision": Target(("test_decision",), ("test_if_change_gain", "test_cures", "test_situations")),
    "planning/outlook": Target(("test_decision",), ("test_if_change_gain", "test_cures", "test_situations")),
    "planning/cures/cures": _CURES,
    "planning/cures/findings": Target(("test_cure_findings",), _CURES.quick + _CURES.wide),
    "planning/cures/trials": Target(("test_cures_by_hand", "test_cure_findings"), _CURES.quick + _CURES.wide),
    "planning/cures/changes": Target(("test_cures_by_hand",), _CURES.quick + _CURES.wide),
    "planning/cures/worst_station": Target(("test_cures_by_hand",), _CURES.quick + _CURES.wide),
    "planning/if_change/costs": Target(("test_if_change_costs",), _IF_CHANGE.quick + _IF_CHANGE.wide),
    "planning/if_change/findings": _IF_CHOICE,
    "planning/if_change/nearby": _IF_CHOICE,
    "planning/if_change/proposals": _IF_CHOICE,
    "planning/if_change/scan": _IF_CHOICE,
    "planning/if_change/scan_list": _IF_CHOICE,
    "planning/if_change/verdict": Target(("test_if_change_costs",), _IF_CHANGE.quick + _IF_CHANGE.wide),
    "planning/converter/crystals": _CONVERTER,
    "planning/converter/figures": _CONVERTER,
    "planning/converter/findings": Target(("test_converter_points",), _CONVERTER.quick + _CONVERTER.wide),
    "planning/converter/handling": Target(("test_converter_points",), _CONVERTER.quick),
    "planning/converter/points": Target(("test_converter_points",), _CONVERTER.quick + _CONVERTER.wide),
    "planning/converter/ranking": Target(("test_converter_points",), _CONVERTER.quick + _CONVERTER.wide),
    "planning/bench/chi_square": _BY_HAND,
    "planning/bench/dial_settings": _DIALS,
    "planning/bench/generator": _BY_HAND,
    "planning/bench/image_readings": Target(("test_bench_by_hand", "test_image_readings"), _BENCH.quick),
    "planning/bench/laws": _BY_HAND,
    "planning/bench/pointer": _DIALS,
    "planning/bench/points": _BENCH,
    "planning/bench/settle": Target(("test_settle",), _BENCH.quick),
    "planning/bench/student": _BY_HAND,
    "planning/suspects/belonging": Target(("test_suspects_by_hand",), _SUSPECTS.quick + _SUSPECTS.wide),
    "planning/suspects/evidence": Target(
        ("test_evidence_words", "test_suspects_by_hand"), _SUSPECTS.quick + _SUSPECTS.wide
    ),
    "planning/suspects/suspects": _SUSPECTS,
    "planning/suspects/motion": Target(("test_suspects_by_hand",), _SUSPECTS.quick + _SUSPECTS.wide),
    "planning/suspects/weights": Target(
        ("test_suspects_by_hand", "test_suspicion_figures"), _SUSPECTS.quick + _SUSPECTS.wide
    ),
    "occupancy/activity": Target(("test_activity",), ("test_sky_services", "test_lists_found_out")),
    "occupancy/hours": Target(("test_occupancy_hours",), ("test_lists_found_out", "test_importing_times")),
    "occupancy/typical_levels": Target(
        ("test_level_table", "test_occupancy_occupants"), ("test_sky_services",)
    ),
    "occupancy/sky/field": Target(("test_sky_model",), ("test_against_measured_fields",)),
    "occupancy/sky/level_law": Target(("test_sky_model",), ("test_here_and_now",)),
    "responses/listening/arrivals": _HEARD,
    "responses/listening/findings": Target(("test_finding_words",), _LISTENING.quick + _LISTENING.wide),
    "responses/listening/judged": Target(
        ("test_judged_by_hand", "test_usable_share", "test_weak_image"), _LISTENING.wide
    ),
    "responses/listening/presence": _HEARD,
    "responses/listening/share": _LISTENING,
    "responses/listening/thresholds": _HEARD,
    "responses/listening/weak_image": _LISTENING,
    "responses/listening/worlds": _HEARD,
    "receiver/listener": Target(("test_listener",), ("test_who_is_spoilt", "test_usable_share")),
    "receiver/oscillator_noise": Target(("test_overload",), ("test_listening_by_hand",)),
    "responses/strong_signals/overload": Target(("test_listening_by_hand", "test_overload"), ()),
    "cli/options": _OPTIONS,
    **{
        f"cli/{command}": _ONE_COMMAND
        for command in (
            "bench_sheet",
            "birdies",
            "card",
            "converter",
            "cures",
            "dial",
            "if_change",
            "ranges",
            "readings",
            "report",
            "station",
            "suspects",
        )
    },
    "cli/frame": _OPTIONS,
    "reporting/views/bench": Target(
        ("test_bench_page", "test_readings_outputs", "test_bench_sheet"), _SHOWN.wide
    ),
    "reporting/views/converter": Target(("test_converter_points", "test_converter_cli"), _SHOWN.wide),
    "reporting/views/cures": Target(("test_cures_by_hand",), _SHOWN.wide),
    "reporting/views/if_change": Target(("test_if_change_choice",), ("test_if_change", *_SHOWN.wide)),
    "reporting/views/intrusions": Target(("test_intrusions_page", *_SHOWN.quick), _SHOWN.wide),
    "reporting/views/suspects": Target(("test_suspects_page", "test_suspects"), _SHOWN.wide),
    "reporting/report": Target(("test_report",), ()),
}
