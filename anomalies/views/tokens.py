"""A person's access tokens."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from anomalies.forms.tokens import MakeTokenForm
from anomalies.models import AccessToken
from config.kit.requests import PersonRequest


@never_cache
@require_http_methods(["GET", "POST"])
def list_tokens(request: PersonRequest) -> HttpResponse:
    """Show the person's tokens, or make one: only the page that answers ever shows its secret."""
    sent = request.POST if request.method == "POST" else None
    form = MakeTokenForm(sent, record=AccessToken(), actor=request.user)
    made, secret = (form.perform() or (None, "")) if form.is_bound else (None, "")
    if made:
        form = MakeTokenForm(record=AccessToken(), actor=request.user)
    mine = AccessToken.objects.visible_to(request.user).select_related("last_use")
    context = {"tokens": mine, "form": form, "made": made, "secret": secret}
    return render(request, "anomalies/tokens/list.html", context, status=form.status if form.is_bound else 200)
