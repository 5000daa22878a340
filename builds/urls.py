"""Every address of the book. Valvetrain adds its own."""

from django.contrib.auth import views as auth_views
from django.urls import include, path

from builds.views.first_owner import LogIn, make_first_owner

urlpatterns = [
    path("login/", LogIn.as_view(), name="login"),
    path("first-owner/", make_first_owner, name="first-owner"),
    path("logout/", auth_views.LogoutView.as_view(), name="logout"),
    path("", include("valvetrain.urls")),
]
