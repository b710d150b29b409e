"""What each column of the analysis data set means: nothing leaves that has no entry here.

One line an entry: table, name, type, unit or '-', allowed codes or '-', meaning, source. Days count
from the index operation, which is day 0.
"""

from dataclasses import asdict, dataclass

SINCE = "0.1.0"
YES_NO = "yes no unknown"
_LINES = f"""
cases | case | whole | - | - | index procedure, by a number of this export alone | made for this export
cases | patient | whole | - | - | patient, by a number of this export alone | made for this export
cases | site | whole | - | - | site, by a number of this export alone | made for this export
cases | surgeon | whole | - | - | operating surgeon, by a number of this export alone | made for this export
cases | procedure_year | whole | year | - | year of the index procedure | procedure
cases | procedure_quarter | whole | quarter | 1 2 3 4 | quarter of that year | procedure
cases | construct_type | code | - | - | construct type of the index procedure, a code of the service | construct
cases | side | code | - | left right | injured side | injury
cases | injury_kind | code | - | lateral_clavicle ac_joint | what is injured | injury
cases | age_years | whole | years | - | age at injury; 90 stands for 90 and more | injury
cases | age_missing | code | - | unknown not_done not_applicable | why there is no age, empty where there is one | injury
cases | sex | code | - | female male other unknown | sex | injury
cases | other_shoulder | code | - | uninjured injured_before operated_before unknown | state of the other shoulder | injury
cases | patient_status | code | - | active died withdrawn moved | whether the patient is still followed | patient
cases | status_day | whole | days | - | day on which the patient died, withdrew or moved away | patient
cases | planned_removal | flag | - | - | the construct type is meant to come out | construct type
cases | mechanism | code | - | fall_standing fall_height bicycle road sport other unknown | how it happened | injury
cases | energy | code | - | low high unknown | energy of the injury | injury
cases | skin | code | - | closed open unknown | closed or open | injury
cases | smoking | code | - | never former current unknown | smoking at injury | injury
cases | diabetes | code | - | {YES_NO} | diabetes at injury | injury
cases | bmi_kg_m2 | number | kg/m2 | - | body mass index at injury | injury
cases | bmi_missing | code | - | unknown not_done not_applicable | why there is no body mass index | injury
cases | steroid_use | code | - | {YES_NO} | regular steroids at injury | injury
cases | osteoporosis | code | - | {YES_NO} | known osteoporosis | injury
cases | dominant_arm | code | - | left right both unknown | dominant arm | injury
cases | injured_dominant | code | - | {YES_NO} | the dominant arm is the injured one | worked out
cases | work_demand | code | - | low moderate high not_applicable unknown | load at work | injury
cases | sport_demand | code | - | none recreational contact unknown | sport | injury
cases | operator_grade | code | - | consultant fellow trainee other not_applicable unknown | grade of the operator | procedure
cases | assistant_grade | code | - | consultant fellow trainee other not_applicable unknown | grade of the assistant | procedure
cases | approach | code | - | transverse skin_lines arthroscopic other unknown | approach | procedure
cases | reduction_quality | code | - | anatomical near poor unknown | reduction at the end of the operation | procedure
cases | duration_minutes | whole | minutes | - | skin to skin | procedure
cases | days_to_surgery | whole | days | - | from injury to operation, where the day of the injury is known | worked out
cases | order_at_site | whole | - | - | how many of this construct type the site had done, this one included | worked out
cases | neer | code | - | I IIA IIB IIC III IV V | Neer class, Craig's form | classification
cases | ao_ota | code | - | 15.3A 15.3B 15.3C | AO/OTA class, 2018 | classification
cases | rockwood | code | - | I II III IIIA IIIB IV V VI | Rockwood class | classification
cases | revised_day | whole | days | - | first revision fixation | procedure
cases | removed_day | whole | days | - | first implant removal | procedure
cases | last_seen_day | whole | days | - | last film or attended review | worked out
cases | protocol_version | whole | - | - | version of the protocol that asks for reviews | protocol
readings | case | whole | - | - | index procedure, as in cases | made for this export
readings | film | whole | - | - | film, by a number of this export alone | made for this export
readings | reader | whole | - | - | reader, by a number of this export alone | made for this export
readings | taken_day | whole | days | - | day of the film | film
readings | view | code | - | ap zanca axillary chest other | view | film
readings | position | code | - | upright supine unknown | posture | film
readings | weighted | flag | - | - | weights held; empty where not known | film
readings | calibrated | flag | - | - | lengths in mm count | film
readings | shows_both_sides | flag | - | - | both shoulders are on the film | film
readings | ccd_injured_mm | number | mm | - | coracoclavicular distance of the injured side | reading
readings | ccd_other_mm | number | mm | - | coracoclavicular distance of the other side | reading
readings | ccd_side_ratio_pct | number | per cent | - | (injured - other) / other x 100, where no lengths are stored | reading
readings | acd_injured_mm | number | mm | - | how much higher the clavicle stands than the acromion, injured side | reading
readings | translation_pct | number | per cent | - | translation as a share of the shaft's width | reading
readings | union | code | - | none partial united not_applicable unknown | union on the film | reading
readings | hardware | code | - | intact loose broken migrated removed not_applicable unknown | hardware on the film | reading
readings | cortices_bridged | whole | - | 0 1 2 3 4 | bridged cortices of four; empty where they were not counted | reading
readings | fracture_line | code | - | visible not_visible unknown not_applicable not_done | whether the fracture line is seen | reading
readings | read_day | whole | days | - | day of the reading | reading
readings | turn | whole | - | - | the how-manieth reader of the film it is by | reading
readings | blind | flag | - | - | read without sight of another's reading | reading
findings | case | whole | - | - | index procedure, as in cases | made for this export
findings | film | whole | - | - | film, as in readings | made for this export
findings | reader | whole | - | - | reader, as in readings | made for this export
findings | taken_day | whole | days | - | day of the film | film
findings | kind | code | - | screw_loosened screw_backed_out screw_broken plate_lifted plate_broken hook_migrated anchor_moved acromial_erosion tunnel_widened coracoid_fracture ossification ac_degeneration | what was looked for; what was not has no row | reading
findings | found | code | - | absent present not_assessable not_applicable | what the reader says of it; who read blind was asked for every kind, whatever was implanted | reading
findings | grade | whole | - | 1 2 3 | grade of erosion or of degeneration, where it is present | reading
findings | place | code | - | lateral shaft both medial anchor coracoid_button clavicle_button | which screw, end or part, where the reader said | reading
complications | case | whole | - | - | index procedure, as in cases | made for this export
complications | kind | code | - | - | unwanted event, a code of the registry | complication
complications | onset_earliest_day | whole | days | - | earliest day of its onset | complication
complications | onset_day | whole | days | - | latest day of its onset | complication
complications | detected_day | whole | days | - | day on which it was found | complication
complications | resolved_day | whole | days | - | day on which it was over | complication
complications | grade | code | - | I II III IVa IVb V unknown | grade by what was done about it | complication
complications | grade_scheme | code | - | - | by which scheme it was graded | complication
complications | relation | code | - | construct procedure neither unknown | what it comes from | complication
reoperations | case | whole | - | - | index procedure, as in cases | made for this export
reoperations | kind | code | - | revision_fixation implant_removal washout other | kind of the later operation | procedure
reoperations | performed_day | whole | days | - | day of the later operation | procedure
reoperations | planned_removal | flag | - | - | a removal that was planned from the start | procedure
reoperations | construct_type | code | - | - | construct type of a revision, a code of the service | construct
reoperations | reason | code | - | planned_removal symptoms complication clinician | why the removal was raised | hardware decision
reviews | case | whole | - | - | index procedure, as in cases | made for this export
reviews | step | code | - | - | step of the protocol, a code of the service | protocol
reviews | horizon | code | - | 6w 3m 6m 12m 24m | horizon that the step stands for | protocol
reviews | way | code | - | done_in_window done_outside missed lapsed not_needed open death withdrawal moved revision removal protocol | how the review ended | worked out
reviews | complete | flag | - | - | all that its step asks for was collected or said to be not obtainable | review
reviews | opens_day | whole | days | - | first day of its window | review
reviews | due_day | whole | days | - | day on which it is due | review
reviews | closes_day | whole | days | - | last day of its window | review
reviews | attended_day | whole | days | - | day of the visit | review
reviews | film_required | flag | - | - | its step asks for a film | protocol
reviews | film_present | flag | - | - | a film of a wanted view was taken in its window or at its visit | worked out
reviews | film_day | whole | days | - | day of the first such film | worked out
motion | case | whole | - | - | index procedure, as in cases | made for this export
motion | day | whole | days | - | day of the examination | motion exam
motion | step | code | - | - | step of the protocol that it counts for | worked out
motion | horizon | code | - | 6w 3m 6m 12m 24m | horizon that the step stands for | worked out
motion | in_window | flag | - | - | inside the window of that step | worked out
motion | side | code | - | injured other | which shoulder | motion exam
motion | mode | code | - | active passive | active or passive | motion exam
motion | movement | code | - | flexion abduction external_rotation internal_rotation | movement | motion exam
motion | value_deg | number | degrees | - | angle | motion exam
motion | level | code | - | thigh buttock ls l3 t12 t7 | landmark that the thumb reaches, for internal rotation | motion exam
motion | level_rank | whole | - | 0 1 2 3 4 5 | its place from the lowest | worked out
motion | missing | code | - | unknown not_done not_applicable | why there is no value, empty where there is one | motion exam
scores | case | whole | - | - | index procedure, as in cases | made for this export
scores | instrument | code | - | - | instrument, a code of the registry | score
scores | instrument_version | code | - | - | version of its scoring | score
scores | day | whole | days | - | day of the answers | score
scores | step | code | - | - | step of the protocol that it counts for | worked out
scores | horizon | code | - | 6w 3m 6m 12m 24m | horizon that the step stands for | worked out
scores | in_window | flag | - | - | inside the window of that step | worked out
scores | total | number | points | - | total on the instrument's own scale; empty where it cannot be computed | score
scores | relative_pct | number | per cent | - | total as a share of the norm for age and sex | score
scores | mode | code | - | clinic phone remote proxy unknown | how it was answered | score
scores | hardware_in_place | code | - | {YES_NO} | the implant was in place when it was answered | score
"""


@dataclass(frozen=True)
class Entry:
    """One column of one table: what it means, in which unit, of which type, from where."""

    table: str
    name: str
    kind: str
    unit: str
    codes: tuple[str, ...]
    meaning: str
    source: str
    since: str = SINCE

    def row(self) -> dict[str, str]:
        """Return the entry as plain text by column."""
        return {**asdict(self), "codes": " ".join(self.codes)}


def _entry(line: str) -> Entry:
    table, name, kind, unit, codes, meaning, source = (part.strip() for part in line.split(" | "))
    listed = () if codes == "-" else tuple(codes.split())
    return Entry(table, name, kind, "" if unit == "-" else unit, listed, meaning, source)


ENTRIES = tuple(_entry(line) for line in _LINES.strip().splitlines())
TABLES = tuple(dict.fromkeys(one.table for one in ENTRIES))


def columns_of(table: str) -> tuple[str, ...]:
    """Return the columns of a table that may leave, in their order.

    Raises KeyError for a table of which nothing may leave.
    """
    found = tuple(one.name for one in ENTRIES if one.table == table)
    if not found:
        raise KeyError(f"'{table}' is no table of the data set; there are {', '.join(TABLES)}")
    return found
