"""Where texts stand that no mark names: in the planning service, in tables, choices and forms."""

from __future__ import annotations

SAYING = """
    away calendar checks contingent fields filling findings leaves loading materials observed planting
    planting_checks plots program_checks season soil_ways spray_checks stand_count sprayday trees rig
    by_field options other_ways price_moves standards rig_drive rig_hitch rig_road rig_tables estimate
""".split()
"""Modules of the planning service whose sentences a client or a crew reads."""
WORKING = """
    calibration drawn estimate fields filling freezes leaves loading materials planting
    planting_reckoning plots rig rig_drive rig_hitch rig_road season seed soil spray sprayday stand
    stand_count trees work
""".split()
"""Modules whose formulas and inputs are printed with the workings, or shown beside a figure on a page."""
SAYING_ELSEWHERE = {
    "sites/away.py": ("words_of",),
    "sites/ground/downwind.py": ("downwind",),
    "sites/ground/exclusions.py": ("left_for",),
    "sites/ground/layout.py": ("lay_out", "_kind"),
    "sites/ground/measuring.py": ("measure", "_holes"),
    "sites/ground/slope.py": ("__str__",),
    "sites/ground/stem_plots.py": ("stems_per_acre",),
    "sites/layout.py": ("ask_row",),
    "sites/models/fields.py": ("minds",),
    "plans/trips.py": ("_told",),
}
"""Functions outside the planning service whose words are told: they go into a job, a history or a working."""
CHOICES = {
    "consulting/machines.py": ("Kind", "Holding"),
    "sites/away.py": ("SHORT",),
    "sites/models/farms.py": ("MOMENT",),
    "sites/models/fields.py": ("COVER", "KIND", "THATCH", "WORK"),
    "sites/models/walks.py": ("STAGE", "ABUNDANCE", "SIZE"),
    "plans/board.py": ("STANDINGS",),
    "plans/documents/coming.py": ("STAGES",),
    "plans/documents/ground.py": ("THATCH", "ABUNDANCE"),
    "plans/documents/letter.py": ("WANTED", "COVERS"),
    "plans/documents/sown.py": ("KINDS",),
    "plans/planning/estimate.py": ("PHASES",),
    "plans/planning/plan.py": ("CATEGORIES",),
    "plans/rigs.py": ("VERDICTS", "PARTS"),
    "plans/walked.py": ("LABELS",),
    "plans/workings.py": ("PARTS",),
    "plans/machine_facts.py": ("WORDS",),
    "plans/models/plans.py": ("State",),
    "plans/models/records.py": ("Kind",),
    "plans/models/shed.py": ("Kind", "What"),
    "plans/models/visits.py": ("VisitState", "What"),
    "plans/planning/job.py": ("Cover", "MixPurpose", "Purpose"),
    "plans/planning/away.py": ("VERBS", "PAST"),
    "plans/planning/loading.py": ("BOXES", "BOX_WORDS", "GAL_PER_HP_HOUR"),
    "consulting/terms.py": ("default_stages",),
}
"""Values that are read as they are."""
ALSO_SAID = (
    "{done} of {whole} acres",
    "{done} of {whole} acres on {day}",
    "{visit} was done on {day}",
    "{visit} was skipped",
    "{visit} was opened again",
    "{visit} was added: {reason}",
    "What was seen on the farm",
    "{number} stems an acre",
    *"plot; plots; truck; towed; ammonium sulfate; no side; neighbor; go; wait".split("; "),
    *"north; northeast; east; southeast; south; southwest; west; northwest".split("; "),
    *"clear; partly cloudy; overcast; spring; fall; low; medium; high; none noted; arithmetic".split("; "),
    "weighed by the lot's own test",
    *"Brakes; Breakaway; Motors; Overrunning coupler; Plug; Weight; Wheelbase; Road".split("; "),
    *"Air; Electric; Hydraulic; Surge; It has none; Weight and power; Clevis and pin; Yes; No".split("; "),
    *"Boom sprayer; Broadcast spreader; Flail mower; No-till drill; Roller; Rotary cutter".split("; "),
    *"Tandem disk; Hung on the three-point links; Pulled from the drawbar; {size} in ball".split("; "),
    "Gooseneck ball in the bed",
    "Pintle hook and ring",
    "Category {key}: lower pins {lower} in, upper pin {upper} in",
    "{rpm} rpm, {splines} straight splines, {size} in",
    "{rpm} rpm, {splines} involute splines, {size} in",
    "{pins}-pin flat",
    "{pins}-pin round",
    "{pins}-pin round with large pins ({standard})",
    "{pins}-pin round with small pins ({standard})",
    "{pins}-way blade ({standard})",
    "Agricultural ({standard})",
    "Industrial ({standard})",
    "Flat face ({standard})",
    "Older cylindrical tip ({standard})",
    "{weight} lb PLS",
    "bulk",
    "cover",
    "let out",
    "as entered",
    "price list of the practice",
    "the laboratory's recommendation, as entered",
    "each crop by its share of a full seeding; common practice",
    "sum of printed amounts",
    "terms of this plan, each part rounded half up to the cent",
    "printed amounts cut among the fields they are for; parts add up to the cent",
    "not promised by this proposal",
    "the job planned again with this one thing changed",
    "common practice",
)
"""Sources that are no publication, and what is put together of single words."""
MADE_OF_NAMES = """
    Base; Catch before; Catch last; Crop; Day; Distance; Dormant; Efficiency; Fence; Germination; Humidity;
    In tubes; Leaves; Length; Pct; Phosphorus; Plant; Pls; Potassium; Price per fence; Price per plant;
    Price per tube; Purity; Replaced; Rise; Row spacing; Rows; Run; Setting before; Setting last; Slope;
    Slope length; Soil ph; Spacing; Species; Speed; Sprayed; Swath; Tank; Volume; Wheel circumference; Width;
    Wind; Reasons; Time zone; Tractor; Implement; Truck; Trailer
"""
"""Labels of inputs that are called what they are; those of machines' facts are told."""
UNITS_OF_INPUTS = "per acre; per PLS lb; tons/acre; seeds/ft²; seeds/lb; ft; in; h"
UNSAID_CALLS = {"known"}
COLUMNS: dict[str, tuple[str, ...]] = {
    "cautions.csv": ("brief", "text"),
    "cover_stages.csv": ("label",),
    "fill_order.csv": ("words",),
    "growing.csv": ("name",),
    "ingredients.csv": ("near_water",),
    "loading.csv": ("item",),
    "moments.csv": ("label",),
    "next_steps.csv": ("label", "words"),
    "operations.csv": ("label",),
    "options.csv": ("label",),
    "other_ways.csv": ("label", "reason"),
    "outlook.csv": ("words",),
    "plant_gives.csv": ("gives",),
    "plots.csv": ("caution",),
    "practice_asks.csv": ("asks",),
    "programs.csv": ("label", "summary", "caution", "way_out"),
    "pto_adapters.csv": ("why",),
    "seedings.csv": ("label", "summary"),
    "species.csv": ("common_name", "bloom_colour"),
    "steps.csv": ("label", "why", "conditions"),
    "suggestions.csv": ("words", "mark"),
    "wall_notes.csv": ("text",),
    "trees.csv": ("common_name", "caution", "stock"),
}
"""Of the reference tables, what is printed or shown to a client or a crew."""
GROUND_COLUMNS = {"layouts.csv": ("purpose", "asks", "words"), "scent.csv": ("words",)}
"""Of those of the ground."""
FORMS = {
    "plans/forms/counts.py": (),
    "plans/forms/records.py": ("GROUPS", "WORKED", "PLAIN", "HELP", "NAMES", "SHORT", "AMOUNTS"),
    "plans/forms/visits.py": (),
    "plans/records.py": ("LABELS",),
    "plans/models/records.py": ("SKY", "Kind", "Method", "AIM", "GROWTH", "WIND_FROM"),
    "sites/models/walks.py": ("STAGE", "ABUNDANCE", "SIZE"),
}
"""Forms that a crew fills in: labels and helps by their keyword, and tables of them by name."""
