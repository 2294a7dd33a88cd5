"""Takes the README's pictures into static/tour/: python -m tests.tools.tour_pictures

Fills a database of its own with the invented practice, serves it, and looks at it with headless Chromium.
"""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from io import BytesIO
from pathlib import Path
from subprocess import PIPE
from typing import NamedTuple

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright
from pypdf import PdfReader

HERE = Path(__file__).resolve().parents[2]
TOUR = HERE / "static" / "tour"
COLOURS = 128
LARGEST_BYTES = 120_000
LAPTOP = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}
OFFERED, STOPPED = "Two fields to nesting and winter cover", "Brush to bunchgrass on the hill"
MIX = "Bee meadow"
FIELD = ("Ida Marchetti (invented)", "Sandrock Farm", "Creek Bottom")
"""Client, farm and field."""
OPENED_FIGURE = 7  # Seed of the second year.
PDF_DPI = 80
PRINTED = {
    "cover": "",
    "years": "The years ahead",
    "price": "What it costs",
    "options": "Other ways to do it",
}
"""Pages of the proposal, by a heading that stands there; the first page by none."""


class Demo(NamedTuple):
    address: str
    password: str
    proposal: Path
    client_page: str
    """Its path."""


@contextmanager
def served_demo() -> Iterator[Demo]:
    """A demo of its own, served until the block is left."""
    with tempfile.TemporaryDirectory() as folder:
        env = os.environ | {
            "DJANGO_SETTINGS_MODULE": "tests.settings",
            "DATABASE_URL": f"sqlite:///{folder}/tour.sqlite3",
            "COVERSTEAD_DEMO": "true",
            "HTTPS": "false",
        }

        def manage(*command: str) -> str:
            program = [sys.executable, "manage.py", *command]
            return subprocess.run(program, cwd=HERE, env=env, check=True, stdout=PIPE, text=True).stdout

        manage("migrate", "--verbosity", "0")
        manage("createcachetable")
        said = manage("demo", "--pdf-dir", folder)
        port = free_port()
        server = subprocess.Popen(
            [sys.executable, "-m", "gunicorn", "consulting.wsgi", "--bind", f"127.0.0.1:{port}"]
            + ["--threads", "4", "--log-level", "warning"],
            cwd=HERE,
            env=env,
        )
        try:
            wait_for(port)
            (proposal,) = Path(folder).glob("*.pdf")
            client_page = re.search(r"/client/\S+", said)
            if client_page is None:
                raise SystemExit("the demo says no client's page")
            password = said.split("password: ")[1].strip()
            yield Demo(f"http://127.0.0.1:{port}", password, proposal, client_page[0])
        finally:
            server.terminate()
            server.wait()


def free_port() -> int:
    with socket.socket() as any_port:
        any_port.bind(("127.0.0.1", 0))
        return int(any_port.getsockname()[1])


def wait_for(port: int, seconds: float = 30) -> None:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    raise SystemExit(f"the demo did not answer on port {port} within {seconds:g} seconds")


def keep(png: bytes, name: str) -> None:
    """Writes the picture in few colours; refuses one too large for a README."""
    picture = (
        Image.open(BytesIO(png))
        .convert("RGB")
        .quantize(COLOURS, Image.Quantize.MAXCOVERAGE, kmeans=1, dither=Image.Dither.NONE)
    )
    path = TOUR / f"{name}.png"
    picture.save(path, optimize=True)
    size = path.stat().st_size
    print(f"{path.relative_to(HERE)}: {picture.width} × {picture.height}, {size / 1000:.0f} kB")
    if size > LARGEST_BYTES:
        raise SystemExit(f"{path.name} has {size} bytes; the most is {LARGEST_BYTES}: show less of the page")


def signed_in(browser: Browser, demo: Demo, viewport: dict[str, int]) -> Page:
    page = browser.new_context(base_url=demo.address, viewport=viewport).new_page()
    page.goto("/accounts/login/")
    page.get_by_label("Email").fill("owner@kestrel.example")
    page.get_by_label("Password", exact=True).fill(demo.password)
    page.get_by_role("button", name=re.compile("^sign in$", re.IGNORECASE)).click()
    page.get_by_role("heading", name="Where things stand").wait_for()
    return page


def screens(page: Page, width: int) -> None:
    """The pictures of one screen size: seven on a laptop, six on a phone."""

    def take(name: str) -> None:
        page.evaluate("document.fonts.ready")
        keep(page.screenshot(animations="disabled"), f"{name}-{width}")

    def section(name: str) -> None:
        page.get_by_role("navigation", name="Sections").get_by_role("link", name=name, exact=True).click()

    def page_of(title: str) -> None:
        page.get_by_role("main").get_by_role("link", name=title).first.click()
        page.get_by_role("heading", level=1, name=title).wait_for()

    def scroll_to(heading: str) -> None:
        page.get_by_role("heading", name=heading).evaluate(
            "it => scrollTo({top: it.getBoundingClientRect().top + scrollY - 24, behavior: 'instant'})"
        )

    if width == PHONE["width"]:
        page.reload()  # Without the word about having signed in.
        take("overview")
    section("Plans")
    page_of(STOPPED)
    take("plan")
    section("Plans")
    page_of(OFFERED)
    page.get_by_role("table", name=re.compile("^By year")).locator("summary").nth(OPENED_FIGURE).click()
    scroll_to("What it costs")
    take("price")
    if width == LAPTOP["width"]:
        scroll_to("Why these dates")
        take("dates")
        section("Prices")
        page.get_by_role("heading", level=1, name="Prices").wait_for()
        take("prices")
    section("Mixes")
    page_of(MIX)
    take("mix")
    section("Work")
    page.get_by_role("heading", level=1, name="Work").wait_for()
    if width == PHONE["width"]:
        take("work")
        without_signal(page)
        take("no-signal")
    else:
        page.get_by_role("main").get_by_role("link", name="Fit the season").click()
        page.get_by_label("Last day").fill(f"{date.today() + timedelta(days=270)}")
        page.get_by_label("Look for at most").fill("20")
        page.get_by_role("button", name="Fit it").click()
        page.get_by_text("Done.", exact=True).wait_for()
        take("fit")
        section("Farms")
        for title in FIELD:
            page_of(title)
        scroll_to("Outline and acres")
        take("field")


def without_signal(page: Page) -> None:
    """The day as the phone kept it, with the network cut."""
    page.get_by_role("main").get_by_role("link", name="Today").click()
    page.get_by_text("Kept on this device").wait_for()
    page.context.set_offline(True)
    page.reload()
    page.get_by_text("This is the copy kept").wait_for()


def printed(pdf: Path) -> None:
    """The proposal's cover, and the first page on which each heading stands."""
    texts = [page.extract_text() for page in PdfReader(pdf).pages]
    for name, heading in PRINTED.items():
        number = str(next(at for at, text in enumerate(texts, start=1) if heading in text))
        drawn = subprocess.run(
            ["pdftoppm", "-png", "-r", str(PDF_DPI), "-f", number, "-l", number, str(pdf)],
            check=True,
            capture_output=True,
        )
        keep(drawn.stdout, f"print-{name}")


def as_the_client(browser: Browser, demo: Demo) -> None:
    """What a client sees on a phone, without logging in."""
    page = browser.new_context(base_url=demo.address, viewport=PHONE).new_page()
    page.goto(demo.client_page)
    page.get_by_role("heading", level=1).wait_for()
    page.evaluate("document.fonts.ready")
    keep(page.screenshot(animations="disabled"), "client-390")


def main() -> None:
    TOUR.mkdir(parents=True, exist_ok=True)
    with served_demo() as demo, sync_playwright() as play:
        browser = play.chromium.launch(
            executable_path=os.environ.get("CHROMIUM", "/usr/bin/chromium"),
            args=["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"],
        )
        for viewport in (LAPTOP, PHONE):
            screens(signed_in(browser, demo, viewport), viewport["width"])
        as_the_client(browser, demo)
        browser.close()
        printed(demo.proposal)


if __name__ == "__main__":
    main()
