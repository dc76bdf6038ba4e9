"""Pages stay short where strangers begin, and every link of a page leads somewhere."""

import re

import pytest

from service.board.handbook import PAGES, PICTURES, anchor
from tests.docs.source import ROOT

HANDBOOK = ROOT / "service" / "handbook"
README, DEVELOPERS = ROOT / "README.md", ROOT / "DEVELOPERS.md"
LINK = re.compile(r"\]\(([^)\s]+)\)")
LARGEST_PICTURE = 80_000


def pages():
    """Every page that links to others."""
    beside = (path for room in ("deploy", "ingest", "service") for path in (ROOT / room).rglob("*.md"))
    return [README, DEVELOPERS, ROOT / "CHANGELOG.md", *beside]


def anchors(text):
    """Fragments of a page's headings."""
    return {anchor(title.replace("`", "")) for title in re.findall(r"(?m)^#+ (.*)$", text)}


def test_readme_fits_a_first_visit():
    lines = README.read_text(encoding="utf-8").splitlines()
    assert len(lines) <= 130
    assert lines[0] == "# Heelmark" and lines[3] == ""
    sentence = lines[2]
    assert sentence.endswith(".") and sentence.count(". ") == 0
    assert 10 <= len(sentence.split()) <= 25


def test_developers_read_two_screens():
    text = DEVELOPERS.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= 110
    for thing in ("refrigerant", "rule", "page", "translator"):
        assert f"**A {thing}" in text, f"how to add a {thing}"
    assert "## How to propose a change, or report a weakness" in text


@pytest.mark.parametrize(
    "page", [ROOT / "ingest" / "README.md", ROOT / "deploy" / "README.md"], ids=lambda page: page.parent.name
)
def test_what_a_newcomer_reads_of_a_room_is_short(page):
    assert len(page.read_text(encoding="utf-8").splitlines()) <= 80


def test_readme_has_what_a_stranger_asks():
    text = README.read_text(encoding="utf-8")
    assert "No real cylinder has been measured yet; help us change that" in text
    for title in ("Cautions", "What you need", "Two commands", "A first verdict"):
        assert f"\n## {title}\n" in text
    assert text.index("## Cautions") < text.index("## Two commands")


@pytest.mark.parametrize("page", pages(), ids=lambda page: page.relative_to(ROOT).as_posix())
def test_every_link_leads_somewhere(page):
    text = page.read_text(encoding="utf-8")
    lost = []
    for address in LINK.findall(text):
        if address.startswith("https://"):
            continue
        path, _, fragment = address.partition("#")
        target = (page.parent / path).resolve() if path else page
        if not target.exists() or (fragment and fragment not in anchors(target.read_text(encoding="utf-8"))):
            lost.append(address)
    assert lost == []


def test_the_handbook_serves_every_page_that_is_there():
    assert sorted(f"{name}.md" for name in PAGES) == sorted(path.name for path in HANDBOOK.glob("*.md"))
    assert sorted(PICTURES) == sorted(path.name for path in (HANDBOOK / "pictures").glob("*"))


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_is_small(name):
    content = (HANDBOOK / "pictures" / name).read_bytes()
    assert content.startswith(b"\x89PNG") and len(content) < LARGEST_PICTURE


def test_a_lost_link_would_be_seen():
    assert LINK.findall("[a](b.md#c) ![d](e.png)") == ["b.md#c", "e.png"]
    assert anchors("# A `b`, c\n## D") == {"a-b-c", "d"}
