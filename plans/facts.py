"""From the database to the planning service: rows into the frozen dataclasses it takes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from django.utils.translation import override

from consulting import models as consulting
from plans import models
from plans.field_plans import drawn_of
from plans.manners import manner_of
from plans.own_species import fact_of as added_species_of
from plans.planning import job, price_list
from sites import models as sites
from sites.away import words_of
from sites.drawn import left_by_work
from sites.ground.errors import GroundError
from sites.ground.exclusions import Left


def practice_of(practice: consulting.Practice) -> job.Practice:
    return job.Practice(
        name=practice.name,
        address=practice.address,
        phone=practice.phone,
        email=practice.email,
        applicator_licence=practice.applicator_licence,
        slopes=job.SlopeLimits(
            tillage_pct=float(practice.slope_tillage_pct),
            machines_pct=float(practice.slope_machines_pct),
            across_pct=float(practice.slope_across_pct),
        ),
    )


def climate_of(farm: sites.Farm) -> job.Climate:
    return job.Climate(
        place=farm.climate_place,
        monthly_mean_f=tuple(float(mean) for mean in farm.monthly_mean_f),
        last_spring_freeze=farm.last_spring_freeze,
        first_fall_freeze=farm.first_fall_freeze,
        source=farm.climate_source,
        observed=tuple(
            job.Observation(moment=seen.moment, on=seen.on)
            for seen in sorted(farm.observations.all(), key=lambda seen: (seen.on, seen.moment))
        ),
    )


def mix_of(mix: models.Mix) -> job.Mix:
    return job.Mix(
        name=mix.name,
        basis=mix.basis,  # type: ignore[arg-type]
        seeds_per_sqft=mix.seeds_per_sqft,
        rate_is_for=mix.rate_is_for,  # type: ignore[arg-type]
        lines=tuple(job.MixLine(species=line.species, amount=line.amount) for line in mix.lines.all()),
    )


def trees_of(kept: dict[str, Any] | None) -> job.Trees | None:
    if kept is None:
        return None
    lines = tuple(job.TreeLine(**line) for line in kept["lines"])
    return job.Trees(**(kept | {"lines": lines}))


def soil_test_of(kept: dict[str, Any] | None) -> job.SoilTest | None:
    if kept is None:
        return None
    day = kept.get("tested_on")
    return job.SoilTest(**(kept | {"tested_on": date.fromisoformat(day) if day else None}))


LEAST_ACRES = 0.005
"""Less than this is nothing in acres of two decimals."""


def left_of_works(ground: sites.Field) -> dict[str, Left]:
    """What is left of a field for each kind of work that stays away from something on it.

    Empty without an outline. Asks nothing where `exclusions__landmark` was prefetched.
    """
    rows = list(ground.exclusions.all())
    try:
        return left_by_work(
            ground, [work for work, _ in sites.Exclusion.WORK if any(work in row.work for row in rows)]
        )
    except GroundError:
        return {}


def kept_away_of(ground: sites.Field, left: Mapping[str, Left]) -> tuple[job.KeptAway, ...]:
    """The same in acres of two decimals, as the field's own, with what takes them."""
    rows = list(ground.exclusions.all())
    found = []
    for work, _ in sites.Exclusion.WORK:
        named = [row for row in rows if work in row.work]
        left_acres = None
        if named and work in left:
            left_acres = min(float(ground.acres), round(left[work].left_acres, 2))
            taken = zip(named, left[work].taken, strict=True)
            named = [row for row, one in taken if one.acres >= LEAST_ACRES]
        if named:
            because = tuple(words_of(row) for row in named)
            found.append(job.KeptAway(work=work, left_acres=left_acres, because=because))  # type: ignore[arg-type]
    return tuple(found)


def conversion_of(conversion: models.Conversion, landmarks: Iterable[sites.Landmark] = ()) -> job.Conversion:
    """`landmarks` are those of the farm, to be drawn with the field."""
    ground = conversion.field
    left = left_of_works(ground)
    near = ground.water_within_ft
    return job.Conversion(
        field=ground.name,
        acres=float(ground.acres),
        cover=ground.cover,  # type: ignore[arg-type]
        kill_program=conversion.kill_program,
        seeding=conversion.seeding,
        mix=mix_of(conversion.mix) if conversion.mix else None,
        trees=trees_of(conversion.trees),
        soil_test=soil_test_of(conversion.soil_test),
        purpose=conversion.purpose,  # type: ignore[arg-type]
        start_on=conversion.start_on,
        slope_pct=float(ground.slope_pct),
        slope_length_ft=float(ground.slope_length_ft),
        soil_texture=ground.soil_texture or None,  # type: ignore[arg-type]
        soil_r=ground.soil_r,
        thatch=ground.thatch,  # type: ignore[arg-type]
        weeds=ground.weeds,
        woody_plants=ground.woody_plants,
        water_within_ft=None if near is None else float(near),
        sensitive_neighbours=ground.sensitive_neighbours,
        power_lines=ground.power_lines,
        kept_away=kept_away_of(ground, left),
        drawn=drawn_of(ground, left, landmarks),
        notes=ground.notes,
        options=tuple(conversion.options),
        left_out=tuple(conversion.left_out),
        rates_lb_per_acre={step: float(rate) for step, rate in conversion.rates_lb_per_acre.items()},
        broadcast_factor=conversion.broadcast_factor,
        log=tuple(
            job.DoneStep(step=done["step"], on=date.fromisoformat(done["on"])) for done in conversion.log
        ),
    )


def terms_of(given: consulting.TermsFields) -> job.Terms:
    share = given.cost_share_usd_per_acre
    return job.Terms(
        years=given.years,
        overhead_pct=float(given.overhead_pct),
        pricing=given.pricing,  # type: ignore[arg-type]
        pricing_pct=float(given.pricing_pct),
        contingency_pct=float(given.contingency_pct),
        discount_pct=float(given.discount_pct),
        taxes=job.Taxes(
            work_pct=float(given.tax_work_pct),
            seed_pct=float(given.tax_seed_pct),
            materials_pct=float(given.tax_materials_pct),
            spray_pct=float(given.tax_spray_pct),
            hauling_pct=float(given.tax_hauling_pct),
        ),
        cost_share=job.CostShare(label=given.cost_share_label, usd_per_acre=share) if share else None,
        stages=tuple(
            job.Stage(label=stage["label"], share_pct=float(stage["share_pct"]), due=stage.get("due", ""))
            for stage in given.stages
        ),
        valid_days=given.valid_days,
        carrier_gal_per_acre=float(given.carrier_gal_per_acre),
        tank_gal=float(given.tank_gal),
        text=given.terms_text,
    )


@override("en")
def job_of(plan: models.Plan) -> job.Job:
    """The whole job. `plan` comes from `plans.selectors.plan_whole`, so that this asks nothing more.

    In English whoever asks: a proposal keeps these words, and print tells them in its reader's language.
    """
    farm = plan.farm
    landmarks = list(farm.landmarks.all())
    return job.Job(
        title=plan.title,
        practice=practice_of(plan.practice),
        client=job.Client(name=farm.client.name, address=farm.client.address),
        farm=job.Farm(name=farm.name, place=farm.place, round_trip_miles=float(farm.round_trip_miles)),
        climate=climate_of(farm),
        conversions=tuple(conversion_of(conversion, landmarks) for conversion in plan.conversions.all()),
        terms=terms_of(plan),
        letter=plan.letter,
        manner=manner_of(plan.practice, farm.client),
        added_species=tuple(added_species_of(row) for row in plan.practice.ownspecies_set.all()),
    )


def seed_price_of(row: consulting.SeedPrice) -> price_list.SeedPrice:
    return price_list.SeedPrice(
        species=row.species,
        price_usd_per_lb=row.price_usd_per_lb,
        basis=row.basis,  # type: ignore[arg-type]
        purity_pct=float(row.purity_pct),
        germination_pct=float(row.germination_pct),
        dormant_pct=float(row.dormant_pct),
        tested_on=row.tested_on,
        lot=row.lot,
        supplier=row.supplier,
        seeds_per_lb=None if row.seeds_per_lb is None else float(row.seeds_per_lb),
        unchecked=row.unchecked,
    )


def product_of(row: consulting.Product) -> price_list.Product:
    return price_list.Product(
        active_ingredient=row.active_ingredient,
        form=row.form,  # type: ignore[arg-type]
        lb_active_per_gal=None if row.lb_active_per_gal is None else float(row.lb_active_per_gal),
        active_pct=None if row.active_pct is None else float(row.active_pct),
        container_size=float(row.container_size),
        price_usd_per_container=row.price_usd_per_container,
        label_rate_low_oz_per_acre=float(row.label_rate_low_oz_per_acre),
        label_rate_high_oz_per_acre=float(row.label_rate_high_oz_per_acre),
        label_season_max_oz_per_acre=float(row.label_season_max_oz_per_acre),
        registration_number=row.registration_number,
        restricted_use=row.restricted_use,
        aquatic_label=row.aquatic_label,
        unchecked=row.unchecked,
    )


def adjuvant_price_of(row: consulting.AdjuvantPrice) -> price_list.AdjuvantPrice:
    return price_list.AdjuvantPrice(
        kind=row.kind,  # type: ignore[arg-type]
        container_size=float(row.container_size),
        price_usd_per_container=row.price_usd_per_container,
        unchecked=row.unchecked,
    )


def plant_price_of(row: consulting.PlantPrice) -> price_list.PlantPrice:
    return price_list.PlantPrice(
        species=row.species,
        stock=row.stock,
        price_usd_each=row.price_usd_each,
        supplier=row.supplier,
        unchecked=row.unchecked,
    )


def supply_price_of(row: consulting.SupplyPrice) -> price_list.SupplyPrice:
    return price_list.SupplyPrice(
        kind=row.kind,  # type: ignore[arg-type]
        price_usd=row.price_usd,
        grade=row.grade,
        container_lb=None if row.container_lb is None else float(row.container_lb),
        ecce_pct=None if row.ecce_pct is None else float(row.ecce_pct),
        unchecked=row.unchecked,
    )


def work_rate_of(row: consulting.WorkRate) -> price_list.WorkRate:
    return price_list.WorkRate(
        operation=row.operation,
        basis=row.basis,  # type: ignore[arg-type]
        rate_usd=row.rate_usd,
        minimum_usd=row.minimum_usd,
        width_ft=None if row.width_ft is None else float(row.width_ft),
        speed_mph=None if row.speed_mph is None else float(row.speed_mph),
        efficiency_pct=None if row.efficiency_pct is None else float(row.efficiency_pct),
        acres_per_hour=None if row.acres_per_hour is None else float(row.acres_per_hour),
        allowance_pct=float(row.allowance_pct),
        unchecked=row.unchecked,
    )
