"""Every route of the service; each app keeps its own."""

from __future__ import annotations

from django.contrib.auth import views as auth
from django.urls import path

urlpatterns = [
    path("login/", auth.LoginView.as_view(redirect_authenticated_user=True), name="login"),
    path("logout/", auth.LogoutView.as_view(), name="logout"),
]
