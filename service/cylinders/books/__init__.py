"""Rule books: what each law says, as tables, and which book holds where a cylinder stands."""

from typing import Final

from service.cylinders.books import au, ca, eu, us
from service.cylinders.books.book import RuleBook

BOOKS: Final[dict[str, RuleBook]] = {book.code: book for book in (us.BOOK, eu.BOOK, ca.BOOK, au.BOOK)}
"""Every rule book by its code."""
__all__ = ["BOOKS", "DEFAULT", "RuleBook", "book"]
DEFAULT: Final = us.BOOK.code
"""Code of the law that holds where nobody named one."""


def book(code: str) -> RuleBook:
    """The rule book of that code."""
    return BOOKS[code]
