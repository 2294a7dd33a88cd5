"""Who reads a text of ours, by the file that says it.

What a client or a crew reads is shipped in Spanish, and so is all that is not named here. What only
consultants read is gathered for a translator, and may wait for one. A text that stands in a file of each kind
needs its Spanish.
"""

from __future__ import annotations

from fnmatch import fnmatch

ONLY_CONSULTANTS = """
    templates/consulting/* templates/in_out/* templates/plans/*
    templates/machines/form.html templates/forms/stages.html templates/history/changes.html
    templates/sites/*_form.html templates/sites/bring_in.html templates/sites/brought.html
    templates/sites/divide.html templates/sites/draw.html templates/sites/pieces.html
    templates/sites/slope.html
    templates/work/_fitting.html templates/work/_shifts.html templates/work/add.html templates/work/book.html
    templates/work/buy.html templates/work/failed.html templates/work/fit*.html
    templates/work/lot_form.html templates/work/record_labels.html

    consulting/forms.py consulting/keeping.py consulting/letters.py consulting/machines.py
    consulting/models.py
    consulting/outbox.py consulting/scans.py consulting/services.py
    consulting/terms.py consulting/tiles.py
    consulting/manner.py consulting/views/letters.py consulting/views/people.py consulting/views/practice.py
    sites/*_forms.py sites/forms.py sites/bringing.py sites/drawing.py sites/lie.py sites/mapping.py
    sites/ground/* sites/reckoning.py sites/steep.py
    sites/views/away.py sites/views/bringing.py sites/views/dividing.py sites/views/drawing.py
    sites/views/landmarks.py sites/views/removal.py sites/views/slope.py
    plans/acts.py plans/agreements.py plans/again.py plans/change_offer.py plans/changing.py
    plans/cheapest.py
    plans/client_links.py plans/contract.py plans/fitting.py plans/in_out/* plans/leaving.py
    plans/look_preview.py plans/mix_sums.py plans/money_done.py plans/needed.py
    plans/option_rows.py plans/own_look.py plans/pages.py plans/proofs.py
    plans/own_rates.py plans/reports.py plans/report_pages.py plans/revisions.py
    plans/services.py plans/stages.py plans/taken.py plans/divided.py
    plans/models/client_page.py plans/models/fittings.py plans/models/look.py plans/models/mixes.py
    plans/models/rates.py plans/models/stages.py
    plans/forms/cheapest.py plans/forms/client.py plans/forms/conversions.py plans/forms/fitting.py
    plans/forms/in_out.py plans/forms/leaving.py plans/forms/look.py plans/forms/machine_days.py
    plans/forms/mailing.py plans/forms/mixes.py plans/forms/money.py plans/forms/options.py
    plans/forms/plan*.py
    plans/forms/own_species.py plans/forms/prices.py plans/forms/reports.py
    plans/models/species.py plans/own_species.py plans/views/own_species.py
    plans/views/again.py plans/views/buy.py plans/views/cheapest.py plans/views/client_side.py
    plans/views/fitting.py plans/views/in_out.py plans/views/leaving.py plans/views/look.py
    plans/views/machine_days.py plans/views/mailing.py plans/views/mixes.py plans/views/money.py
    plans/views/offers.py plans/views/options.py plans/views/overview.py plans/views/own_rates.py
    plans/views/plan*.py plans/views/prices.py plans/views/reports.py plans/views/revisions.py
    plans/views/walked.py
""".split()
"""Paths and patterns of paths, for the crew may open none of their pages."""
READ_BY_OTHERS_TOO = """
    templates/consulting/choose.html templates/consulting/found.html templates/consulting/invitation.html
    templates/consulting/welcome.html templates/consulting/mail/*
    templates/consulting/gone.html templates/consulting/moved.html
    templates/plans/overview*.html templates/plans/reckon*.html templates/plans/_data_table.html
    templates/plans/_for_the_wall.html templates/plans/_map_with_legend.html templates/plans/_*_plan.html
    templates/plans/_suggest*.html
    templates/plans/_season_report.html templates/plans/_link_message.txt
    templates/sites/walk_form.html sites/walk_forms.py
    sites/ground/downwind.py sites/ground/exclusions.py sites/ground/layout.py sites/ground/measuring.py
    sites/ground/slope.py sites/ground/stem_plots.py
""".split()
"""Among those, what a client or a crew reads all the same."""


def consultants_alone(path: str) -> bool:
    """Whether only consultants read what this file, named from the root of the project, says."""
    return any(fnmatch(path, one) for one in ONLY_CONSULTANTS) and not any(
        fnmatch(path, one) for one in READ_BY_OTHERS_TOO
    )
