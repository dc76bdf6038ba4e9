"""People at the board over HTTP: the form with its token, from whichever address of this machine."""

import re
from typing import Any

import requests

from tests.support.attackers import session_from


class AtTheBoard:
    """A browser that is not signed in yet."""

    def __init__(self, base_url: str, address: str = "127.0.0.1") -> None:
        self.base_url = base_url
        self.session = session_from(address)

    def token(self, path: str = "/sign-in") -> str:
        """The token of a page's forms."""
        found = re.search(r'name="csrf" value="([^"]+)"', self.get(path).text)
        assert found is not None, path
        return found.group(1)

    def get(self, path: str, **options: Any) -> requests.Response:
        """A page."""
        return self.session.get(self.base_url + path, timeout=60, allow_redirects=False, **options)

    def send(self, path: str, token: str, **fields: str) -> requests.Response:
        """A form."""
        data = {"csrf": token, **fields}
        return self.session.post(self.base_url + path, data=data, timeout=60, allow_redirects=False)

    def sign_in(self, login: str, password: str) -> requests.Response:
        """The answer to the form of the sign-in page; 303 lets in."""
        return self.send("/sign-in", self.token(), login=login, password=password)
