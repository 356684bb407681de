"""Every route of the service; each app keeps its own."""

from __future__ import annotations

from django.contrib.auth import views as auth
from django.contrib.auth.decorators import login_required
from django.urls import include, path
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView

from config.theme import choose_theme

urlpatterns = [
    path("login/", auth.LoginView.as_view(redirect_authenticated_user=True), name="login"),
    path("logout/", auth.LogoutView.as_view(), name="logout"),
    path("theme/", choose_theme, name="theme"),
    path("", include("faulttree.bench.urls")),
    path("", include("anomalies.urls")),
    path("api/v1/", include("faulttree.api.urls")),
    path("api/v1/", include("anomalies.api.urls")),
    path("api/v1/schema/", SpectacularAPIView.as_view(), name="schema"),
    # The only page below api/: who isn't logged in is sent to the log-in, like on every other page.
    path("api/v1/docs/", login_required(SpectacularSwaggerSplitView.as_view(url_name="schema")), name="api-docs"),
]

handler400 = "config.kit.handlers.answer_bad_request"
handler404 = "config.kit.handlers.answer_not_found"
handler500 = "config.kit.handlers.answer_broken"
