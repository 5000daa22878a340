"""Whether everything sealed is still what it was: the check, the head of the chain, and where the passphrase lies."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from builds.access import get_me
from builds.keeping import last
from builds.sealing import checking, keys_anew
from builds.sealing.authority import passphrase_file
from builds.sealing.canonical import digest_lines
from builds.sealing.chain import Head
from builds.views.answers import asked_by_htmx

MOST_FAULTS = 200


@require_http_methods(["GET", "HEAD", "POST"])
@never_cache
def verify_page(request: HttpRequest) -> HttpResponse:
    """What the last check found, or how far it is; sent, it starts one."""
    if request.method == "POST":
        checking.start(get_me(request))
        return redirect("verify-page")
    check = checking.look()
    faults = check.report.get("faults", [])
    context = {
        "section": "shop",
        "check": check,
        "faults": faults[:MOST_FAULTS],
        "more_faults": max(len(faults) - MOST_FAULTS, 0),
    }
    if asked_by_htmx(request):
        return render(request, "builds/signing/_book_check.html", context)
    head = Head.now()
    context |= {
        "head": head,
        "head_digest": digest_lines(head.digest),
        "backup": last.look(),
        "roots": keys_anew.roots(),
        "passphrase_given": bool(settings.SIGNING_PASSPHRASE),
        "passphrase_file": passphrase_file(),
    }
    return render(request, "builds/signing/book.html", context)
