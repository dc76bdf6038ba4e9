"""``python -m tests.browser.screenshots``: every page in light, dark and phone width, to be looked at.

With ``--handbook`` the two pictures that README and handbook show, small, instead.
"""

import argparse
import io
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright
from tqdm import tqdm

from tests.browser.conftest import launch, sign_in
from tests.browser.server import Server, free_port
from tests.browser.visits import VISITS, furnish

OUT = Path(__file__).parent / "out"
MODES = {
    "light": {"color_scheme": "light", "viewport": {"width": 1280, "height": 900}},
    "dark": {"color_scheme": "dark", "viewport": {"width": 1280, "height": 900}},
    "phone": {"color_scheme": "light", "viewport": {"width": 360, "height": 740}, "device_scale_factor": 2},
}


PICTURES = Path(__file__).parents[2] / "service" / "handbook" / "pictures"
SHOWN = {"cylinder": ("/cylinders/SHELF-3", 760), "rack": ("/rack", 640), "wall": ("/wall", 520)}
CHECKED = "transfer?direction=in&designation=R-134a&mass=4&phase=liquid&step=check"
ON_A_PHONE = {
    "fill": ("/cylinders/SHELF-3", ".plate-more", 520),
    "check": (f"/cylinders/SHELF-3/{CHECKED}", "#check", 420),
    "identify": ("/cylinders/DEMO-1", "#main", 620),
    "register": ("/register", "#main", 700),
    "not-allowed": ("/cylinders/DEMO-4", ".plate-more details", 520),
    "causes": ("/alarms", "#main", 560),
}
"""Pictures of the tasks: an address, what is scrolled to, the height [CSS px]."""
COLOURS = 40


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--handbook", action="store_true", help="take the handbook's pictures alone")
    take = shoot_handbook if parser.parse_args().handbook else shoot
    OUT.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        server = Server(Path(folder), free_port())
        server.set_up()
        server.start()
        try:
            furnish(server)
            take(server)
        finally:
            server.stop()


def shoot(server: Server) -> None:
    with sync_playwright() as playwright:
        browser = launch(playwright)
        for mode, given in MODES.items():
            context = browser.new_context(**given)  # type: ignore[arg-type]
            page = context.new_page()
            page.goto(f"{server.url}/sign-in")
            page.screenshot(path=OUT / f"sign-in-{mode}.png", full_page=True)
            sign_in(page, server, "admin")
            for visit in tqdm([v for v in VISITS if v.signed_in], desc=mode):
                page.goto(f"{server.url}{visit.path}")
                page.screenshot(path=OUT / f"{visit.name}-{mode}.png", full_page=True)
            context.close()
        browser.close()
    print(f"{len(list(OUT.glob('*.png')))} pictures in {OUT}")


def shoot_handbook(server: Server) -> None:
    """Take the pictures of README and handbook: flat drawings, so few colors make them small."""
    PICTURES.mkdir(exist_ok=True)
    with sync_playwright() as playwright:
        browser = launch(playwright)
        page = browser.new_page(color_scheme="light", viewport={"width": 1100, "height": 640})
        sign_in(page, server, "admin")
        for name, (path, height) in SHOWN.items():
            page.set_viewport_size({"width": 1100, "height": height})
            page.goto(f"{server.url}{path}")
            keep(name, page.screenshot())
        for name, (path, part, height) in ON_A_PHONE.items():
            page.set_viewport_size({"width": 390, "height": height})
            page.goto(f"{server.url}{path}")
            page.evaluate(
                "for (const one of document.querySelectorAll('.plate-more details')) one.open = true"
            )
            page.locator(part).first.evaluate("(one) => one.scrollIntoView()")
            keep(name, page.screenshot())
        browser.close()


def keep(name: str, taken: bytes) -> None:
    """Save a picture with few colors."""
    path = PICTURES / f"{name}.png"
    Image.open(io.BytesIO(taken)).convert("RGB").quantize(COLOURS).save(path, optimize=True)
    print(path, path.stat().st_size)


if __name__ == "__main__":
    main()
