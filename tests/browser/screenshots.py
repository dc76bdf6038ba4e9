"""``python -m tests.browser.screenshots``: every page in light, dark and phone width, to be looked at."""

import tempfile
from pathlib import Path

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


def main() -> None:
    OUT.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        server = Server(Path(folder), free_port())
        server.set_up()
        server.start()
        try:
            furnish(server)
            shoot(server)
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


if __name__ == "__main__":
    main()
