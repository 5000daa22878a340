"""Who may see and change which head: the one place that valvetrain views ask."""

from django.http import Http404, HttpRequest

from valvetrain.models import Head, Stand, Valve


def get_head(request: HttpRequest, pk: int) -> Head:
    """A head of a job, with its job, engine and customer; 404 for a layout or a head that is not there."""
    heads = Head.objects.select_related("build__engine__customer").filter(build__isnull=False)
    head = heads.filter(pk=pk).first()
    if head is None:
        raise Http404("There is no such head on any job.")
    return head


def get_stand(request: HttpRequest, head: Head, pk: int) -> Stand:
    """A stand of this head."""
    stand = Stand.objects.filter(head=head, pk=pk).first()
    if stand is None:
        raise Http404("There is no such stand on this head.")
    stand.head = head
    return stand


def get_valve(request: HttpRequest, head: Head, pk: int) -> Valve:
    """A valve of this head."""
    valve = Valve.objects.select_related("stand").filter(head=head, pk=pk).first()
    if valve is None:
        raise Http404("There is no such valve on this head.")
    return valve
