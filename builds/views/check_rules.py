"""How often the shop looks again at what is out: its rules."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from builds.access import get_check_rule
from builds.forms.check_rules import CheckRuleForm
from builds.views.answers import form_page


@require_http_methods(["GET", "HEAD", "POST"])
def check_rule_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a rule, with where it comes from."""
    rule = get_check_rule(pk)
    form = CheckRuleForm(request.POST or None, instance=rule)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"The rule for {rule} is saved. The list of what is due follows it.")
        return redirect("shop")
    lead = f"Counted in {rule.get_unit_display()}. An engine whose running is counted otherwise goes by another rule."
    heading = f"Look again: {rule.name}, by {rule.get_unit_display()}"
    return form_page(request, form, heading=heading, lead=lead, section="shop", back=reverse("shop"))
