"""Lists in pages, and what was typed into a list's search box."""

from typing import Any

from django.core.paginator import Page, Paginator
from django.http import HttpRequest

ROWS_ON_A_PAGE = 25
LONGEST_SEARCH = 100


def page_of(request: HttpRequest, rows: Any) -> "Page[Any]":
    """The page of a list that was asked for; the nearest one when there is no such page."""
    paginator = Paginator(rows, ROWS_ON_A_PAGE)
    asked = request.GET.get("page", "1").strip()
    below_first = asked.startswith("-") or asked == "0"
    return paginator.get_page(1 if below_first else asked)


def search_text(request: HttpRequest) -> str:
    """What stands in the search box."""
    return request.GET.get("q", "").replace("\0", "").strip()[:LONGEST_SEARCH]
