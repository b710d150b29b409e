"""The columns of every table that leaves, by the door that gives it: `tests/test_exports.py` holds them to this.

A column added to an export has to be added here as well. That is the moment to ask whether whoever takes the table
needs it, and whether it says who somebody is.
"""

from tests.followup.case_files import HEADER as SHEET

# Doors that give the same table stand together.
TABLES: dict[tuple[str, ...], str] = {
    (
        "import-template",
        "export-cases",
    ): " ".join(SHEET),
    ("import-rejected",): " ".join((*SHEET, "reason")),
    (
        "trace-csv",
        "trace-xlsx: Trace",
    ): (
        "patient name site operated_on side construct part quantity device_identifier catalogue_number "
        "batch batch_not_obtainable serial expires_on trace_grade where removed_on patient_status "
        "status_on last_contact_on last_contact"
    ),
    (
        "trace-notice-csv",
        "trace-notice-xlsx: Notice",
    ): (
        "notice patient name site operated_on side construct sureness because state last_contact_on "
        "last_contact step step_on note written_at by"
    ),
    (
        "due-csv",
        "due-xlsx: Due",
    ): (
        "patient site review side operated_on construct state opens_on due_on closes_on why_here booked "
        "tries cannot_be_reached_since cannot_be_reached_because"
    ),
    ("responses-csv",): "table line of answered share low_95 high_95",
    ("hardware-times-csv",): (
        "measure construct raised answered declined open follow_up_ended days_quarter days_half "
        "days_three_quarters share_by_28_days share_by_84_days share_by_182_days share_by_365_days "
        "open_days_middle open_days_longest note"
    ),
    (
        "outcomes-csv",
        "following-csv: rates",
        "pack-tables: held.csv",
        "pack-tables: united.csv",
        "pack-tables: not-united.csv",
        "pack-tables: late-united.csv",
        "pack-tables: harms-any.csv",
    ): (
        "group operated eligible evaluable events competing not_evaluable rate rate_low rate_high "
        "bound_low bound_high incidence incidence_low incidence_high at_risk"
    ),
    (
        "outcomes-definitions-csv",
        "pack-tables: rules.csv",
    ): (
        "definition version group operated eligible evaluable not_evaluable events competing rate "
        "rate_low rate_high bound_low bound_high"
    ),
    (
        "following-csv",
        "pack-tables: following.csv",
    ): (
        "group operated reviewed_baseline due_baseline reviewed_2w due_2w reviewed_6w due_6w reviewed_3m "
        "due_3m observed_years potential_years person_time_completeness lost failures lost_to_failure"
    ),
    (
        "function-csv",
        "pack-tables: function-pain-nrs.csv",
        "pack-tables: function-flexion.csv",
    ): (
        "group horizon eligible number missing_withdrawn missing_moved missing_window_open "
        "missing_not_computable missing_not_measured missing_not_seen died_or_revised_before median "
        "lower_quartile upper_quartile acceptable hardware_yes hardware_no hardware_unknown median_low_95 "
        "median_high_95 rose same fell"
    ),
    ("agreement-csv",): (
        "measurement unit of group pairs one_said icc_2_1 icc_2_1_low icc_2_1_high icc_3_1 icc_3_1_low "
        "icc_3_1_high difference_is difference difference_low difference_high lower_limit lower_limit_low "
        "lower_limit_high upper_limit upper_limit_low upper_limit_high sem mdc_95 mdc_95_low mdc_95_high "
        "kappa kappa_low kappa_high same"
    ),
    (
        "harms-csv",
        "pack-tables: harms-kinds.csv",
        "pack-tables: harms-kinds-by-group.csv",
    ): (
        "kind group operated eligible evaluable events competing not_evaluable rate rate_low rate_high "
        "bound_low bound_high incidence incidence_low incidence_high at_risk"
    ),
    (
        "harms-burden-csv",
        "pack-tables: burden.csv",
        "pack-tables: burden-by-group.csv",
    ): (
        "kind group operated patients events person_years share share_low share_high per_100_procedures "
        "per_100_procedures_low per_100_procedures_high per_100_person_years per_100_person_years_low "
        "per_100_person_years_high day_q1 day_median day_q3 grade_I grade_II grade_III grade_IVa "
        "grade_IVb grade_V grade_unknown"
    ),
    (
        "harms-later-csv",
        "pack-tables: harms-reoperations.csv",
    ): "group operation operated had_at_least_one share share_low share_high",
    (
        "harms-hardware-csv",
        "pack-tables: hardware.csv",
    ): (
        "group operated troubled troubled_in troubled_out raised asked declined planned unplanned "
        "for_symptoms union_united union_not_united union_not_known day_q1 day_median day_q3"
    ),
    (
        "literature-csv",
        "pack-tables: literature-loss-of-reduction.csv",
        "pack-tables: literature-union.csv",
        "pack-tables: literature-any-complication.csv",
        "pack-tables: literature-subacromial-osteolysis.csv",
        "pack-tables: literature-impingement.csv",
        "pack-tables: literature-peri-implant-fracture.csv",
        "pack-tables: literature-stiffness.csv",
        "pack-tables: literature-nonunion.csv",
        "pack-tables: literature-hardware-irritation.csv",
        "pack-tables: literature-unplanned-reoperation.csv",
        "pack-tables: literature-implant-failure.csv",
    ): (
        "construct what events total rate rate_low rate_high prediction_low prediction_high injury status "
        "differences"
    ),
    (
        "following-csv: responses",
        "pack-tables: following-responses.csv",
    ): "horizon wanted answered did_not_answer share low high",
    (
        "following-csv: flow",
        "pack-tables: following-flow.csv",
    ): "group stage left_because cases",
    (
        "following-csv: reviews",
        "pack-tables: following-reviews.csv",
    ): (
        "by line planned done_in_window done_outside missed lapsed not_needed death withdrawal moved "
        "revision removal protocol open difference median_days_late median_days_to_entry"
    ),
    ("pack-tables: function.csv",): "measure eligible measured median_quartiles acceptable",
    ("pack-tables: checks.csv",): "what found",
    ("pack-tables: checks-case-mix.csv",): "fact before since difference",
    ("following-csv: tipping",): (
        "group supposing events evaluable eligible unseen rate bound_low bound_high target exceeded_from"
    ),
    ("signals-csv",): (
        "of unit operated eligible evaluable events rate rate_low rate_high target limit_95_low "
        "limit_95_high limit_998_low limit_998_high place"
    ),
    ("signals-chart-csv",): "case procedure operated_on event expected_risk sum reached_limit",
    ("dataset: cases.csv",): (
        "case patient site surgeon procedure_year procedure_quarter construct_type side injury_kind "
        "age_years age_missing sex other_shoulder patient_status status_day planned_removal mechanism "
        "energy skin smoking diabetes bmi_kg_m2 bmi_missing steroid_use osteoporosis dominant_arm "
        "injured_dominant work_demand sport_demand operator_grade assistant_grade approach "
        "reduction_quality duration_minutes days_to_surgery order_at_site neer ao_ota rockwood "
        "revised_day removed_day last_seen_day protocol_version"
    ),
    ("dataset: readings.csv",): (
        "case film reader taken_day view position weighted calibrated shows_both_sides ccd_injured_mm "
        "ccd_other_mm ccd_side_ratio_pct acd_injured_mm translation_pct union hardware cortices_bridged "
        "fracture_line read_day turn blind"
    ),
    ("dataset: findings.csv",): "case film reader taken_day kind found grade place",
    (
        "dataset: complications.csv",
    ): "case kind onset_earliest_day onset_day detected_day resolved_day grade grade_scheme relation",
    ("dataset: reoperations.csv",): "case kind performed_day planned_removal construct_type reason",
    ("dataset: reviews.csv",): (
        "case step horizon way complete opens_day due_day closes_day attended_day film_required "
        "film_present film_day"
    ),
    (
        "dataset: motion.csv",
    ): "case day step horizon in_window side mode movement value_deg level level_rank missing",
    ("dataset: scores.csv",): (
        "case instrument instrument_version day step horizon in_window total relative_pct mode "
        "hardware_in_place"
    ),
    ("dataset: dictionary.csv",): "table name kind unit codes meaning source since",
}
# Doors whose tables have no row in the tests' scene, and so no columns; each has a test of its own.
EMPTY = {
    *("outcomes-timing-csv", "compare-csv", "enough-csv"),
    *("following-csv: lost", "following-csv: silent"),
}
