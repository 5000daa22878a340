"""What a sheet may load while it is printed."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from urllib.request import url2pathname

from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

DRAWING = "drawing:"
PICTURE = "picture:"


class OnlyFromTheHouse(URLFetcher):  # type: ignore[misc]
    """Loads static files of this project, data: addresses, and what came with the job: `drawing:name`, `picture:name`.

    Anything else stops the printing. No network, and no file of this computer beside the static folder: a sheet
    shows customers' and technicians' text, and text must not be able to reach for anything.
    """

    def __init__(self, static: Path) -> None:
        super().__init__(allowed_protocols=("data", "file"), allow_redirects=False)
        self._static = static.resolve()
        self.drawings: Mapping[str, str] = {}
        self.pictures: Mapping[str, bytes] = {}

    def fetch(self, url: str, headers: dict[str, str] | None = None) -> Any:
        """Fetch an address, or stop."""
        if not self.may_load(url):
            raise FatalURLFetchingError(f"a sheet may not load {url[:120]}")
        if url.startswith(DRAWING):
            svg = self.drawings[url.removeprefix(DRAWING)]
            return URLFetcherResponse(url, svg.encode(), {"Content-Type": "image/svg+xml"})
        if url.startswith(PICTURE):
            jpeg = self.pictures[url.removeprefix(PICTURE)]
            return URLFetcherResponse(url, jpeg, {"Content-Type": "image/jpeg"})
        return super().fetch(url, headers)

    def may_load(self, url: str) -> bool:
        """Whether an address is one of the house's own."""
        if url.startswith(DRAWING):
            return url.removeprefix(DRAWING) in self.drawings
        if url.startswith(PICTURE):
            return url.removeprefix(PICTURE) in self.pictures
        parts = urlsplit(url)
        if parts.scheme == "data":
            return True
        if parts.scheme != "file" or parts.netloc not in ("", "localhost"):
            return False
        return Path(url2pathname(parts.path)).resolve().is_relative_to(self._static)
