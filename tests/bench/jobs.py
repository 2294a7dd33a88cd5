"""What is measured: the example's first field with twelve species, each job at a place of its own."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

from plans.planning.job import Job, Mix, MixLine
from plans.planning.price_list import PriceList
from plans.planning.wire import JobFile, read_job_file

EXAMPLE = Path(__file__).resolve().parents[2] / "plans/examples/job.json"
TODAY = date(2026, 11, 25)
SPECIES, YEARS = 12, 5


def example() -> JobFile:
    return read_job_file(EXAMPLE.read_bytes())


def one_field(count: int) -> tuple[list[Job], PriceList]:
    """`count` different jobs of one field, 12 species and 5 years, and the prices they are planned with."""
    file = example()
    first = file.job.conversions[0]
    priced = list(dict.fromkeys(lot.species for lot in file.prices.seed))[:SPECIES]
    share = 100 / SPECIES
    mix = Mix(
        name="twelve species in equal shares",
        basis="share of seed",
        lines=tuple(MixLine(species=species, amount=share) for species in priced),
        seeds_per_sqft=45.0,
    )
    assert len(priced) == SPECIES
    jobs = []
    for number in range(count):
        warmer = number / 1000
        climate = replace(
            file.job.climate,
            place=f"place {number}",
            monthly_mean_f=tuple(mean + warmer for mean in file.job.climate.monthly_mean_f),
        )
        field = replace(first, acres=round(8 + number / 100, 2), mix=mix)
        terms = replace(file.job.terms, years=YEARS, discount_pct=2.0)
        jobs.append(replace(file.job, climate=climate, conversions=(field,), terms=terms))
    return jobs, file.prices
