from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal
from io import BytesIO

import pytest
from PIL import Image
from pypdf import PdfReader

from plans.documents.proposal import AcceptedCaution
from plans.documents.words import usd
from plans.planning.beside import Beside, beside_json, read_beside
from plans.planning.figures import Figure
from plans.planning.job import KeptAway, SoilTest
from plans.planning.plan import Estimate, Finding, Plan
from tests.documents.conftest import TODAY, pages, printed
from tests.planning import make

AMOUNT = r"−?[\d,]+\.\d\d"


def amount(text: str) -> Decimal:
    return Decimal(text.replace(",", "").replace("−", "-")) if text != "–" else Decimal(0)


def squeezed(texts: list[str]) -> str:
    return re.sub(r"\s+", "", "".join(texts))


def test_says_who_what_when_and_how_much(plan: Plan, texts: list[str]) -> None:
    whole = " ".join("\n".join(texts).split())
    for text in (
        plan.job.practice.name,
        plan.job.practice.phone,
        plan.job.practice.applicator_licence,
        plan.job.client.name,
        "November 25, 2026",
        "holds until December 25, 2026",
        f"The price for all of it is ${plan.estimate.total.total.dollars:,.2f}",
        "What you have",
        "What you will have",
        "Why these dates",
        "The years ahead",
        "The work, step by step",
        "What goes into the ground",
        "What it costs",
        "By field",
        "What could change the price",
        "Payments",
        "Other ways to do it",
        "Cost-share, a matter of your own",
        "Take care",
        "Terms",
        "Agreed",
        "How it was worked out",
        "The lines behind the price",
    ):
        assert text in whole
    assert plan.job.letter.split(".")[0] in texts[1].replace("\n", " ")


def test_the_example_comes_to_eight_to_fourteen_pages(texts: list[str]) -> None:
    assert 8 <= len(texts) <= 14


def test_a_mix_that_fields_share_is_told_once_with_what_each_takes() -> None:
    two = make.plan(make.conversion(field="East"), make.conversion(field="West", acres=5.0))
    text = "\n".join(pages(printed(two))).split("What goes into the ground")[1].split("What it costs")[0]
    assert "\nEast and West: " in text and "\nWest: " not in text
    for line, other in zip(two.seed[0].lines, two.seed[1].lines, strict=True):
        weights = f"{line.bulk_lb.value:.2f} {other.bulk_lb.value:.2f}"
        assert f"{line.species} {weights}".lower() in text.lower()


def test_each_page_is_numbered_and_the_outline_leads_to_it(pdf: bytes, texts: list[str]) -> None:
    for number, text in enumerate(texts, start=1):
        assert f"Page {number} of {len(texts)}" in text
    reader = PdfReader(BytesIO(pdf))
    for entry in reader.outline:
        assert entry.title in texts[reader.get_destination_page_number(entry)]


def test_title_author_language_and_no_clock(plan: Plan, pdf: bytes) -> None:
    reader = PdfReader(BytesIO(pdf))
    assert reader.metadata.title == f"Proposal 2026-014, revision 2: {plan.job.title}"
    assert reader.metadata.author == plan.job.practice.name
    assert reader.trailer["/Root"]["/Lang"] == "en-US"
    assert reader.metadata["/CreationDate"].startswith("D:20000101")


def test_same_plan_same_bytes_kept_or_not(plan: Plan, beside: Beside, pdf: bytes) -> None:
    assert printed(plan, beside=read_beside(beside_json(beside))) == pdf


def test_every_font_is_embedded(pdf: bytes) -> None:
    found = set()
    for page in PdfReader(BytesIO(pdf)).pages:
        for font in page["/Resources"]["/Font"].values():
            described = font.get_object()
            found.add(described["/BaseFont"])
            assert "/FontFile2" in described["/FontDescriptor"], described["/BaseFont"]
    assert len(found) >= 4


def test_years_sum_across_and_down(plan: Plan, texts: list[str]) -> None:
    page = next(text for text in texts if "What it costs" in text)
    rows = [
        [amount(found) for found in re.findall(rf"{AMOUNT}|–", line)]
        for line in page.splitlines()
        if re.match(r"(20\d\d [a-z]+|All years) ", line)
    ]
    *years, whole = rows
    assert len(years) == len(plan.estimate.years)
    for row in rows:
        assert sum(row[:-1]) == row[-1]
    assert [sum(column) for column in zip(*years, strict=True)] == whole
    assert whole[-1] == plan.estimate.total.total.dollars


def columns(text: str, count: int) -> list[list[Decimal]]:
    """Rows that end in so many amounts."""
    row = re.compile(rf"((?:(?:{AMOUNT}|–)\s+){{{count - 1}}}(?:{AMOUNT}|–))$", re.M)
    return [[amount(found) for found in re.findall(rf"{AMOUNT}|–", line)] for line in row.findall(text)]


def test_lines_sum_across_and_down_to_each_years_total(plan: Plan, texts: list[str]) -> None:
    years = [year.total.dollars for year in plan.estimate.years]
    whole = "\n".join(texts).split("The lines behind the price")[1].split("Pure live seed per acre")[0]
    *lines, total = columns(whole, len(years) + 1)
    assert len(lines) > 20
    for row in [*lines, total]:
        assert sum(row[:-1]) == row[-1]
    assert [sum(column) for column in zip(*lines, strict=True)] == total
    assert total == [*years, plan.estimate.total.total.dollars]


def test_fields_sum_across_and_down(plan: Plan, texts: list[str]) -> None:
    years = [year.total.dollars for year in plan.estimate.years]
    text = "\n".join(texts).split("\nBy field\n")[1].split("What could change the price")[0]
    *fields, total = columns(text, len(years) + 1)
    assert len(fields) == len(plan.job.conversions)
    for row in [*fields, total]:
        assert sum(row[:-1]) == row[-1]
    assert [sum(column) for column in zip(*fields, strict=True)] == total
    assert total == [*years, plan.estimate.total.total.dollars]


def test_options_and_moves_are_printed_to_the_cent(plan: Plan, beside: Beside, texts: list[str]) -> None:
    words = " ".join("\n".join(texts).split())
    shown = words.split("Other ways to do it")[1].split("Cost-share, a matter")[0]
    assert {option.key for option in beside.options} == {"richer_mix", "no_herbicide", "year_later"}
    for option in beside.options:
        assert option.standing is not None and option.difference is not None and not option.why_not
        assert option.label in shown
        assert usd(option.standing.total.dollars) in shown
        added = option.difference.dollars
        assert added == option.standing.total.dollars - plan.estimate.total.total.dollars
        assert (f"{usd(abs(added))} {'more' if added > 0 else 'less'}" if added else "the same") in shown
    could = words.split("What could change the price")[1].split("Some seasons ask")[0]
    for move in beside.moves:
        assert f"{abs(move.change.dollars):,.2f}" in could


def test_payments_sum_to_the_price(plan: Plan, texts: list[str]) -> None:
    page = next(text for text in texts if "\nPayments\n" in text)
    paid = re.findall(rf"\d+ % ({AMOUNT})", page.split("\nPayments\n")[1].split("Other ways")[0])
    assert sum(amount(part) for part in paid[:-1]) == amount(paid[-1]) == plan.estimate.total.total.dollars


def cell_by_cell(pdf: bytes) -> str:
    """The text in the order in which it was set, so that a cell's lines stay together."""
    return squeezed([page.extract_text() for page in PdfReader(BytesIO(pdf)).pages])


def test_cautions_stand_with_their_step(plan: Plan, pdf: bytes) -> None:
    schedule = cell_by_cell(pdf).split("Conditionsandcautions", 1)[1]
    for task in plan.tasks:
        label, caution = (re.sub(r"\s+", "", text) for text in (task.label, "".join(task.cautions[:1])))
        where = schedule.index(f"{label}.")
        assert caution in schedule[where : where + 400], label


@pytest.mark.parametrize(
    "name", ["Zoë Nuñez-Łukasz", "王小明", "김민준", "さくら農園", "<b>Bold</b> & Sons", "a < b > c"]
)
def test_names_print_as_typed(plan: Plan, name: str) -> None:
    job = plan.job
    client = replace(job.client, name=name)
    practice = replace(job.practice, name=name)
    field = replace(job.conversions[0], notes=f"Ask {name} for the key.")
    job = replace(
        job, client=client, practice=practice, title=name, conversions=(field, *job.conversions[1:])
    )
    text = "".join(
        page.extract_text() for page in PdfReader(BytesIO(printed(replace(plan, job=job)))).pages[:5]
    )
    assert f"Dear {name}," in text
    assert f"Ask {name} for the key." in text


def test_a_note_of_5000_words_flows_over_pages(plan: Plan, texts: list[str]) -> None:
    note = " ".join(f"word{i}" for i in range(5000))
    first, *others = plan.job.conversions
    long = replace(plan, job=replace(plan.job, conversions=(replace(first, notes=note), *others)))
    whole = squeezed(pages(printed(long)))
    for i in (0, 2500, 4999):
        assert f"word{i}" in whole
    assert len(pages(printed(long))) > len(texts) + 5


def caution(subject: str, reason: str = "Seed loses germination with age.") -> Finding:
    return Finding(
        severity="caution",
        rule="old_test",
        field="",
        subject=subject,
        message=f"The {subject} lot was tested 14 months ago.",
        reason=reason,
        way_out="Have it tested again before it is weighed out.",
        source="common practice",
    )


def test_cells_taller_than_a_page_split(plan: Plan) -> None:
    text = " ".join(f"cell{i}" for i in range(2000))
    tasks = tuple(replace(task, conditions=text) for task in plan.tasks[:1])
    whole = cell_by_cell(printed(replace(plan, tasks=tasks, findings=(caution("switchgrass", text),))))
    assert whole.count("ell0cell1") == 2
    assert whole.count("cell1999") == 2


def test_300_lines_repeat_the_head_on_every_page(plan: Plan) -> None:
    lines = tuple(replace(plan.estimate.lines[0], label=f"Step {i:03}") for i in range(300))
    texts = pages(printed(replace(plan, estimate=replace(plan.estimate, lines=lines))))
    line = re.compile(r"^Step \d{3}, 18.6 acres", re.M)
    holding = [text for text in texts if line.search(text)]
    assert len(holding) > 5
    assert all("Line 2027 2028" in text for text in holding)
    assert sum(len(line.findall(text)) for text in holding) == 300


NOTHING = Figure(Decimal("0.00"), "$", "nothing")


def test_an_empty_plan_is_still_a_document(plan: Plan) -> None:
    amounts = ("work", "seed", "spray", "hauling", "contingency", "discount", "tax", "total")
    nothing = Estimate(
        lines=(),
        years=(),
        total=replace(plan.estimate.total, **dict.fromkeys(amounts, NOTHING)),
        direct_cost=NOTHING,
        stages=(),
        cost_share=None,
        after_cost_share=None,
    )
    job = replace(
        plan.job,
        letter="",
        practice=replace(plan.job.practice, address="", phone="", email="", applicator_licence=""),
        client=replace(plan.job.client, address=""),
        conversions=(replace(plan.job.conversions[0], notes="", weeds="", woody_plants="", thatch="none"),),
        terms=replace(plan.job.terms, text="", stages=(), cost_share=None),
    )
    empty = Plan(
        job=job,
        today=plan.today,
        findings=(),
        seed=(),
        seed_needs=(),
        tanks=(),
        tasks=(),
        cautions=(),
        estimate=nothing,
        season=plan.season,
    )
    whole = "\n".join(pages(printed(empty)))
    assert "Nothing in this plan is priced" in whole
    assert "Agreed" in whole


def test_sixty_fields(plan: Plan) -> None:
    first = plan.job.conversions[0]
    names = [f"Field {i:02}" for i in range(60)]
    tasks = tuple(
        replace(task, field=name, key=f"{name}/{task.key}")
        for task in plan.tasks
        if task.field == first.field
        for name in names
    )
    job = replace(plan.job, conversions=tuple(replace(first, field=name) for name in names))
    lines = tuple(replace(line, fields=()) for line in plan.estimate.lines)
    estimate = replace(plan.estimate, lines=lines)
    whole = "\n".join(pages(printed(replace(plan, job=job, tasks=tasks, estimate=estimate))))
    assert all(name in whole for name in names)


def test_accepted_cautions_name_who_and_why(plan: Plan) -> None:
    first, other = caution("big bluestem"), caution("switchgrass")
    accepted = AcceptedCaution(
        key=first.key, accepted_by="Rosa Held", reason="A new test is on its way", on=TODAY
    )
    pdf = printed(replace(plan, findings=(first, other)), accepted_cautions=[accepted])
    whole = " ".join("\n".join(pages(pdf)).split())
    assert "Accepted by Rosa Held on November 25, 2026: A new test is on its way." in whole
    assert whole.count("Not yet accepted.") == 1


def test_logo_and_a_logo_that_is_none(plan: Plan) -> None:
    picture = BytesIO()
    Image.new("RGB", (300, 120), "#22513b").save(picture, "PNG")
    assert PdfReader(BytesIO(printed(plan, logo=picture.getvalue()))).pages[0].images
    with pytest.raises(ValueError, match="logo"):
        printed(plan, logo=b"not a picture")


def test_cost_share_does_not_change_the_price(plan: Plan) -> None:
    def price(estimate: Estimate) -> str:
        whole = " ".join(pages(printed(replace(plan, estimate=estimate)))[1].split())
        return re.search(rf"The price for all of it is \$({AMOUNT})", whole)[1]

    assert price(plan.estimate) == price(replace(plan.estimate, cost_share=None, after_cost_share=None))


def test_what_is_spread_again_stands_with_its_year() -> None:
    fed = make.plot(soil_test=SoilTest(phosphorus="low"), options=("resow",))
    lines = "\n".join(pages(printed(make.plan(fed)))).splitlines()
    spread = [at for at, line in enumerate(lines) if line.startswith("Fertilizer 18-46-0")]
    years = {year for at in spread for year in range(2028, 2033) if str(year) in " ".join(lines[at : at + 4])}
    assert years == set(range(2028, 2033))


def test_the_client_reads_how_many_acres_each_work_goes_over(plan: Plan) -> None:
    away = (
        KeptAway(work="spray", left_acres=7.0, because=("50 ft from <b>Mill Creek</b>",)),
        KeptAway(work="mow", left_acres=None, because=("the lane",)),
    )
    first, *others = plan.job.conversions
    job = replace(plan.job, conversions=(replace(first, kept_away=away), *others))
    whole = " ".join(" ".join(pages(printed(replace(plan, job=job)))).split())
    assert "7 of 11.2 acres are left to spray: 50 ft from <b>Mill Creek</b>." in whole
    assert "How many acres are left to mow is not known without an outline: the lane." in whole
    assert "What stays away" not in " ".join(pages(printed(plan)))
