"""The handbook's Markdown as HTML that the board's policy allows: no script, no style, no outside picture."""

from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from itertools import pairwise
from typing import Any, Final, NamedTuple

from markdown_it import MarkdownIt
from markdown_it.common.utils import escapeHtml
from markdown_it.token import Token
from markupsafe import Markup

TASKS: Final = ("leak", "take-out", "find-out", "van", "hand-over", "look-after")
"""A page a task, for whoever stands at a cylinder; a phone keeps them."""
TRANSLATED: Final = ("index", *TASKS, "rules", "phone-gateway", "glossary")
"""In every language; what is left is for whoever runs or integrates it, in English alone."""
ENGLISH: Final = "en"
PAGES: Final = (
    "index",
    *TASKS,
    "interface",
    "rules",
    "accuracy",
    "operations",
    "phone-gateway",
    "settings",
    "glossary",
)
"""In the order of the table of contents."""
SHOWN_IN_TASKS: Final = ("check", "fill", "identify", "register", "not-allowed", "causes")
PICTURES: Final = ("cylinder.png", "rack.png", "wall.png", *(f"{name}.png" for name in SHOWN_IN_TASKS))


class Page(NamedTuple):
    """A page as it is served."""

    name: str
    title: str
    html: Markup


@cache
def page(name: str, language: str = ENGLISH) -> Page:
    """Render a page.

    Parameters
    ----------
    name
        One of `PAGES`.
    language
        As the reader wants it; pages that are not written in it are given in English.

    Returns
    -------
    Page
        With its first heading as title; raw HTML in the Markdown is shown as text, never passed on.

    Raises
    ------
    KeyError
        When there is no such page.
    """
    if name not in PAGES:
        raise KeyError(name)
    folder = files("service.handbook")
    if name in TRANSLATED and language != ENGLISH:
        folder /= language
    text = (folder / f"{name}.md").read_text(encoding="utf-8")
    parser = MarkdownIt("commonmark", {"html": False}).enable("table")
    parser.add_render_rule("table_open", _table_open)
    parser.add_render_rule("table_close", _table_close)
    tokens = parser.parse(text)
    _fit(tokens)
    title = tokens[1].content
    return Page(name, title, Markup(parser.renderer.render(tokens, parser.options, {"title": title})))  # noqa: S704


def picture(name: str) -> bytes:
    """Give a picture of the handbook; KeyError when there is no such one."""
    if name not in PICTURES:
        raise KeyError(name)
    return (files("service.handbook") / "pictures" / name).read_bytes()


def anchor(heading: str) -> str:
    """Give the fragment of a heading, as code hosts make it: small letters, a hyphen for each space."""
    kept = "".join(letter for letter in heading.lower() if letter.isalnum() or letter in " -_")
    return kept.replace(" ", "-")


def target(address: str) -> str | None:
    """Give the address that a link of a page has at the board; None for a file that only a checkout has."""
    if address.startswith(("https://", "#")):
        return address
    path, _, fragment = address.removeprefix("../").partition("#")
    name = path.removesuffix(".md")
    if path.endswith(".md") and name in PAGES:
        return f"/help/{name}" + (f"#{fragment}" if fragment else "")
    return None


def _fit(tokens: Sequence[Token]) -> None:
    """Name the headings, and point links and pictures to where the board has them."""
    for opening, inline in pairwise(tokens):
        if opening.type == "heading_open":
            opening.attrSet("id", anchor(inline.content))
        children = inline.children or []
        for at, token in enumerate(children):
            if token.type == "image":
                token.attrSet("src", f"/help/{str(token.attrGet('src')).removeprefix('../')}")
            elif token.type == "link_open":
                _point(token, next(one for one in children[at:] if one.type == "link_close"))


def _point(opening: Token, closing: Token) -> None:
    address = target(str(opening.attrGet("href")))
    if address is None:
        opening.tag = closing.tag = "span"
        opening.attrs = {}
    else:
        opening.attrSet("href", address)


def _table_open(*given: Any) -> str:
    # A table that is wider than a phone scrolls by itself; whoever has no mouse must be able to reach it.
    at, title = given[2], given[4]["title"]
    label = escapeHtml(f"Table {at} of {title}")
    return f'<div class="scroll" tabindex="0" role="region" aria-label="{label}"><table>'


def _table_close(*_: Any) -> str:
    return "</table></div>"
