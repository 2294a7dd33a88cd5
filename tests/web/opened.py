"""Addresses that take a form and need not know at which version it was opened, and why. All others must."""

from __future__ import annotations

WHY: dict[str, str] = {
    "makes a record; sent twice it makes one": """
        practice_new own_species_new client_new farm_new field_new exclusion_new price_new mix_new plan_new
        machine_new shed_new machine_span_new day_off invite walk_new landmark_new field_draw_new bring_in
        list_in cheapest_mix fit visits_make calendars change_start
    """,
    "adds to a record that only grows": """
        farm_observe walk_photos count_photo_add agreement_scans question_answer season_report_send
        proposal_send sent_report_send record_correct walk_correct stand_count plan_money_mark
    """,
    "has its own look at what was seen": """
        field_draw field_acres field_divide field_slope_steep landmark brought list_match list_take
        own_rates_take prices_confirm plan_offer caution_accept plan_signed fitting_take work_lost_days
        letter_again letter_take_back
    """,
    "writes nothing": "farm_reckon field_slope mix_sums conversion_steps seed_per_pls_lb",
    "comes to the same, whatever changed": """
        brought_drop list_drop fitting_stop calendar_revoke caution_unaccept client_link client_link_revoke
        practice_leave left
    """,
    "stands outside a practice": "invitation_accept client_ask client_agree client_decline",
}
NEED_NOT = frozenset(name for names in WHY.values() for name in names.split())


def must_know(name: str) -> bool:
    """Whether the form that an address takes must carry the versions of what it is on."""
    return name not in NEED_NOT and not name.startswith(("account_", "mfa_"))
