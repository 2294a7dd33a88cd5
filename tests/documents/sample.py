"""An invented plan, made by hand, so that what is printed can be tested without the planner's numbers."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from plans.planning import money
from plans.planning.figures import Figure, Term
from plans.planning.job import (
    Client, Climate, Conversion, CostShare, Farm, Job, Mix, MixLine, Practice, Stage, Taxes, Terms,
)  # fmt: skip
from plans.planning.plan import (
    Estimate, EstimateLine, FieldSeed, Finding, Moment, Plan, Season, SeedLine, SeedNeed, StageAmount,
    TankMix, TankPart, Task, YearPrice,
)  # fmt: skip

TODAY = date(2026, 11, 25)
OFFERED = date(2026, 11, 25)

SPECIES = (
    # name, group, box, seeds per lb, share of seed %
    ("little bluestem", "grass", "chaffy", 240_000, 26.0),
    ("sideoats grama", "grass", "chaffy", 191_000, 16.0),
    ("indiangrass", "grass", "chaffy", 175_000, 10.0),
    ("switchgrass", "grass", "small", 389_000, 4.0),
    ("partridge pea", "legume", "large", 65_000, 8.0),
    ("purple prairie clover", "legume", "small", 300_000, 12.0),
    ("black-eyed Susan", "forb", "small", 1_575_000, 18.0),
    ("Maximilian sunflower", "forb", "small", 200_000, 6.0),
)
MIX = Mix(
    name="Upland nesting mix",
    basis="share of seed",
    lines=tuple(MixLine(species=name, amount=share) for name, _, _, _, share in SPECIES),
    seeds_per_sqft=32.0,
)
FIELDS = (("Barn Hill", 11.2, 7.0), ("Spring Draw", 7.44, 3.0))


def conversion(name: str, acres: float, slope: float) -> Conversion:
    return Conversion(
        field=name, acres=acres, cover="cool-season sod", kill_program="sod_fall_spring", seeding="drill",
        mix=MIX, purpose="nesting and brood cover", start_on=date(2027, 7, 1), slope_pct=slope, slope_length_ft=300.0,
        thatch="light", weeds="musk thistle along the fence", woody_plants="scattered eastern redcedar",
        water_within_ft=120.0 if name == "Spring Draw" else None,
        sensitive_neighbours="vineyard across the east fence" if name == "Barn Hill" else "",
        power_lines=name == "Barn Hill",
        notes="The gate on the north side is twelve feet wide." if name == "Barn Hill" else "",
    )  # fmt: skip


def job() -> Job:
    return Job(
        title="Two fields to nesting cover",
        practice=Practice(
            name="Tallgrass Bend Habitat Works", address="41 Ferry Road\nLower Quill, Kansas 66000",
            phone="555-0142", email="office@tallgrassbend.example",
            applicator_licence="Commercial applicator, licence INVENTED-0042",
        ),
        client=Client(name="Ada Quillen", address="2200 Turnstone Lane\nQuill Township, Kansas"),
        farm=Farm(name="Turnstone Farm", place="Quill County, Kansas", round_trip_miles=38.0),
        climate=Climate(
            place="Quill County, Kansas",
            monthly_mean_f=(29.0, 34.0, 44.0, 54.0, 64.0, 74.0, 79.0, 77.0, 69.0, 56.0, 43.0, 33.0),
            last_spring_freeze="04-19", first_fall_freeze="10-17", source="invented",
        ),
        conversions=tuple(conversion(*field) for field in FIELDS),
        terms=Terms(
            years=5, overhead_pct=12.0, pricing_pct=20.0, contingency_pct=5.0, discount_pct=2.0,
            taxes=Taxes(seed_pct=6.5), cost_share=CostShare(label="County conservation office", usd_per_acre=Decimal("180")),
            stages=(
                Stage(label="On signing", share_pct=30.0, due="within ten days"),
                Stage(label="After drilling", share_pct=50.0, due="June 2028"),
                Stage(label="Upkeep", share_pct=20.0, due="each December"),
            ),
            text="Invoices are due in thirty days.\nGates are left as they are found.",
        ),
        letter="You asked whether the meadowlarks would stay. They will move to the hay ground for the spring of 2028 "
        "and should be back the year after.",
    )  # fmt: skip


def figure(value: float | Decimal, unit: str, formula: str, *terms: Term, source: str = "arithmetic") -> Figure:
    return Figure(value=value, unit=unit, formula=formula, inputs=terms, source=source)


def field_seed(name: str, acres: float) -> FieldSeed:
    lines = []
    weights = {n: 32 * share / 100 * 43_560 / per_lb for n, _, _, per_lb, share in SPECIES}
    whole = sum(weights.values())
    for n, group, box, per_lb, share in SPECIES:
        rate = weights[n]
        pls = rate * acres
        bulk = pls / (0.93 * 0.82)
        cost = money.to_cents(pls * 14.5)
        lines.append(
            SeedLine(
                species=n, group=group, box=box, lot=f"LOT-{len(n)}",
                seeds_per_sqft=figure(32 * share / 100, "seeds/ft²", "share x seeds of the whole mix"),
                share_of_seed_pct=share, share_of_weight_pct=100 * rate / whole,
                pls_lb_per_acre=figure(
                    rate, "lb/acre", "seeds/ft² x 43,560 / seeds per lb",
                    Term("seeds/ft²", 32 * share / 100), Term("seeds per lb", per_lb), source="definition",
                ),
                bulk_lb_per_acre=figure(bulk / acres, "lb/acre", "lb PLS / (purity x live)"),
                pls_lb=figure(pls, "lb", "lb PLS per acre x acres"),
                bulk_lb=figure(bulk, "lb", "lb PLS / (purity x live)", Term("purity", 93.0, "%"), Term("live", 82.0, "%")),
                cost=figure(cost, "$", "lb PLS x price per lb PLS", Term("lb PLS", pls), Term("price", Decimal("14.5"), "$"),
                            source="price list"),
            )
        )  # fmt: skip
    return FieldSeed(
        field=name, acres=acres, mix=MIX.name, seeds_per_sqft=figure(32.0, "seeds/ft²", "sum"),
        pls_lb_per_acre=figure(whole, "lb/acre", "sum of the lines"), grass_share_pct=56.0, forb_share_pct=44.0,
        cost_per_acre=figure(Decimal("101.20"), "$/acre", "seed cost / acres"), lines=tuple(lines),
    )  # fmt: skip


STEPS = (
    # step, label, phase, season, operation, earliest, latest, why, conditions, cautions
    ("mow", "Mow the old growth", "kill", 0, "mow", (2027, 8, 10), (2027, 9, 5),
     "Short, fresh regrowth takes the spray up; tall old stems shield it.", "Leave 6 to 8 inches; dry ground.",
     ("Look for nests and fawns before the mower does.",)),
    ("kill fall", "Spray the fall regrowth", "kill", 0, "spray", (2027, 9, 20), (2027, 10, 31),
     "The sod sends food to its roots in the fall, and takes the spray down with it.",
     "Growing sod 6 to 10 inches tall, days over 55 °F, wind 3 to 10 mph, no rain for 6 hours.",
     ("The product label is the law: read it, wear what it asks for, keep its distances.",
      "Keep drift off the vineyard to the east.")),
    ("kill spring", "Spray what comes back in spring", "kill", 0, "spray", (2028, 4, 10), (2028, 5, 5),
     "Seedlings and missed plants are killed before the drill comes.",
     "Regrowth 4 to 8 inches tall; wind 3 to 10 mph.",
     ("The product label is the law: read it, wear what it asks for, keep its distances.",)),
    ("drill", "Drill the mix", "plant", 1, "no_till_drilling", (2028, 5, 10), (2028, 6, 15),
     "The soil is warm enough for the native grasses and still moist.",
     "Soil at 55 °F and rising; firm dead sod; seed a quarter inch deep.",
     ("Stop the engine before clearing a seed tube.",)),
    ("clip 1", "Clip above the seedlings", "establish", 1, "mow", (2028, 7, 1), (2028, 8, 15),
     "Seedlings need light more than height in their first summer.", "Cut at 8 inches when weeds reach 16.", ()),
    ("spot 2", "Spot-spray thistles", "establish", 2, "spot spray", (2029, 5, 1), (2029, 6, 10),
     "A few plants now are a field of them later.", "Single plants before they bloom.",
     ("The product label is the law: read it, wear what it asks for, keep its distances.",)),
    ("clip 2", "Clip once if weeds top the stand", "establish", 2, "mow", (2029, 6, 15), (2029, 7, 20),
     "The second summer belongs to the roots.", "Cut at 12 inches.", ()),
    ("burn 4", "Prescribed burn by a qualified crew", "keep", 4, "burn", (2031, 3, 10), (2031, 4, 15),
     "Fire clears litter and wakes the grasses.", "Burn plan, permits and crew in place.",
     ("Only under a written burn plan, with the permits and people that local rules ask for.",
      "Smoke and flame near power lines can carry current.")),
    ("spot 5", "Spot-spray woody sprouts", "keep", 5, "spot spray", (2032, 6, 1), (2032, 7, 31),
     "Cedars in their first years die easily; later they do not.", "Leaves fully out.", ()),
)  # fmt: skip


def tasks() -> tuple[Task, ...]:
    made = []
    for field, acres, _ in FIELDS:
        for step, label, phase, season, operation, first, last, why, conditions, cautions in STEPS:
            if step == "burn 4" and field == "Barn Hill":
                continue
            shift = timedelta(days=7 if step == "drill" and field == "Spring Draw" else 0)
            made.append(
                Task(
                    key=f"{field}/{step}/{season}", field=field, step=step, label=label, why=why, operation=operation,
                    phase=phase, season=season, earliest=date(*first) + shift, latest=date(*last) + shift,
                    opens="", closes="", after="", wait_days=0, acres=acres,
                    hours=figure(acres / 5, "h", "acres / acres per hour"), conditions=conditions, cautions=cautions,
                    source="common practice",
                )
            )  # fmt: skip
    return tuple(sorted(made, key=lambda task: (task.earliest, task.field)))


def line(year: int, category: str, label: str, fields: tuple[str, ...], price: str, quantity: str = "18.64") -> EstimateLine:
    cost = money.to_cents(Decimal(price) * Decimal("0.714"))
    return EstimateLine(
        year=year, category=category, label=label, fields=fields,  # type: ignore[arg-type]
        quantity=figure(Decimal(quantity), "acres", "sum of the fields"),
        cost=figure(cost, "$", "acres x rate"),
        price=figure(
            Decimal(price), "$", "cost x (1 + overhead) / (1 - margin)",
            Term("cost", cost, "$"), Term("overhead", 12.0, "%"), Term("margin", 20.0, "%"), source="terms of the practice",
        ),
    )  # fmt: skip


BOTH = ("Barn Hill", "Spring Draw")
LINES = (
    line(2027, "work", "Mow the old growth", BOTH, "559.20"),
    line(2027, "work", "Spray the fall regrowth", BOTH, "372.80"),
    line(2027, "spray", "glyphosate and ammonium sulfate", BOTH, "297.31"),
    line(2027, "hauling", "Two trips of 38 miles", BOTH, "83.60"),
    line(2028, "work", "Spray what comes back in spring", BOTH, "372.80"),
    line(2028, "spray", "glyphosate and ammonium sulfate", BOTH, "297.31"),
    line(2028, "work", "Drill the mix", BOTH, "1,025.20".replace(",", "")),
    line(2028, "seed", "Upland nesting mix", ("Barn Hill",), "1642.05", "11.2"),
    line(2028, "seed", "Upland nesting mix", ("Spring Draw",), "1090.79", "7.44"),
    line(2028, "work", "Clip above the seedlings", BOTH, "559.20"),
    line(2028, "hauling", "Three trips of 38 miles", BOTH, "125.40"),
    line(2029, "work", "Spot-spray thistles", BOTH, "233.00"),
    line(2029, "spray", "clopyralid", BOTH, "88.17"),
    line(2029, "work", "Clip once if weeds top the stand", BOTH, "559.20"),
    line(2031, "work", "Prescribed burn by a qualified crew", ("Spring Draw",), "892.80", "7.44"),
    line(2032, "work", "Spot-spray woody sprouts", BOTH, "233.00"),
)


def estimate(lines: tuple[EstimateLine, ...] = LINES, terms: Terms | None = None) -> Estimate:
    terms = terms or job().terms
    phases = {2027: "kill", 2028: "kill and plant", 2029: "settle", 2031: "keep", 2032: "keep"}
    years = []
    for year in sorted({entry.year for entry in lines}):
        of = {
            category: money.total(Decimal(e.price.value) for e in lines if e.year == year and e.category == category)
            for category in ("work", "seed", "spray", "hauling")
        }
        priced = sum(of.values(), money.ZERO)
        contingency = money.percent_of(priced, terms.contingency_pct)
        discount = -money.percent_of(priced + contingency, terms.discount_pct)
        tax = money.percent_of(of["seed"], terms.taxes.seed_pct)
        years.append(
            YearPrice(
                year=year, phase=phases.get(year, "keep"), **of, contingency=contingency, discount=discount, tax=tax,
                total=priced + contingency + discount + tax,
            )
        )  # fmt: skip
    columns = ("work", "seed", "spray", "hauling", "contingency", "discount", "tax", "total")
    total = YearPrice(year=0, phase="", **{c: money.total(getattr(y, c) for y in years) for c in columns})
    parts = money.split(total.total, [stage.share_pct for stage in terms.stages]) if terms.stages else ()
    share = figure(Decimal("3355.20"), "$", "acres x $ per acre", Term("acres", 18.64), Term("rate", Decimal("180"), "$"))
    return Estimate(
        lines=lines, years=tuple(years), total=total, direct_cost=money.total(Decimal(e.cost.value) for e in lines),
        stages=tuple(
            StageAmount(label=s.label, share_pct=s.share_pct, due=s.due, amount=a)
            for s, a in zip(terms.stages, parts, strict=True)
        ),
        cost_share=share if terms.cost_share else None,
        after_cost_share=total.total - Decimal("3355.20") if terms.cost_share else None,
    )  # fmt: skip


def tank(task: Task) -> TankMix:
    total = task.acres * 64
    return TankMix(
        task=task.key, field=task.field, label=task.label, acres=task.acres, carrier_gal_per_acre=15.0,
        carrier_gal=figure(task.acres * 15, "gal", "acres x carrier"), tank_gal=200.0,
        acres_per_tank=figure(200 / 15, "acres", "tank / carrier"), full_loads=int(task.acres * 15 // 200),
        last_load_gal=figure(task.acres * 15 % 200, "gal", "remainder"), last_load_acres=task.acres % (200 / 15),
        parts=(
            TankPart(
                name="glyphosate 4 lb/gal", active_ingredient="glyphosate", rate=figure(64.0, "fl oz/acre", "label rate"),
                per_full_tank=figure(853.3, "fl oz", "rate x acres per tank"), in_last_load=figure(total, "fl oz", "rest"),
                total=figure(total, "fl oz", "rate x acres", Term("rate", 64.0, "fl oz/acre"), Term("acres", task.acres),
                             source="label as entered"),
                cost=figure(money.to_cents(total / 128 * 18), "$", "gal x price"),
            ),
        ),
    )  # fmt: skip


def bump(day: int, centre: float, spread: float, height: float) -> float:
    away = (day - centre + 182.5) % 365 - 182.5
    return height * math.exp(-((away / spread) ** 2))


def season() -> Season:
    return Season(
        place="Quill County, Kansas", daily_mean_f=tuple(54 - 25 * math.cos((d - 20) / 365 * 2 * math.pi) for d in range(365)),
        cool_growth=tuple(bump(d, 125, 32, 1.0) + bump(d, 275, 32, 0.6) for d in range(365)),
        warm_growth=tuple(bump(d, 195, 48, 0.97) for d in range(365)),
        moments=(Moment(key="hard freeze", label="hard freeze", day="11-03", working="", source=""),),
    )  # fmt: skip


FINDINGS = (
    Finding(
        severity="caution", rule="old seed test", field="Barn Hill", subject="little bluestem",
        message="The little bluestem lot was tested 14 months ago.", reason="Seed loses germination with age.",
        way_out="Have it tested again before it is weighed out.", source="common practice",
    ),
    Finding(
        severity="caution", rule="near water", field="Spring Draw", subject="glyphosate",
        message="Spring Draw lies within 120 ft of water.", reason="Products without an aquatic label must stay off it.",
        way_out="Keep the distance the label gives, or choose a product labelled for it.", source="label as entered",
    ),
    Finding(
        severity="note", rule="power line", field="Barn Hill", subject="power line",
        message="A power line crosses Barn Hill.", reason="Tall machines and smoke near lines are dangerous.",
        way_out="Fold booms under the line and leave it out of any burn.", source="common practice",
    ),
)  # fmt: skip


def plan() -> Plan:
    made = tasks()
    return Plan(
        job=job(), today=TODAY, findings=FINDINGS, seed=tuple(field_seed(n, a) for n, a, _ in FIELDS),
        seed_needs=tuple(
            SeedNeed(species=n, lot="LOT", supplier="", pls_lb=figure(1.0, "lb", "sum"), bulk_lb=None, cost=None)
            for n, *_ in SPECIES
        ),
        tanks=tuple(tank(task) for task in made if task.operation == "spray"), tasks=made, estimate=estimate(),
        season=season(),
    )  # fmt: skip


def with_job(of: Plan, **changes: object) -> Plan:
    return replace(of, job=replace(of.job, **changes))
